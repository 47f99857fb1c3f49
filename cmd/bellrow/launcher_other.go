//go:build !darwin

package main

// startedAgain is for macOS alone.
func startedAgain() (bool, error) { return false, nil }
