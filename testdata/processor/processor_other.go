//go:build !unix

// Package processor tells what a program costs: on a loaded machine wall time
// tells of the load.
package processor

import "time"

var started = time.Now()

// Time stands in with wall time where the system has no simple count.
func Time() time.Duration { return time.Since(started) }

// WithChildren stands in with wall time, too.
func WithChildren() time.Duration { return Time() }
