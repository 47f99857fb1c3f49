//go:build !portaudio

package mic

import "bellrow/node/capture"

// Native tells whether this build has the native microphone.
const Native = false

// Devices lists the microphones.
func Devices() ([]Device, error) { return nil, ErrNotBuilt }

// Open opens a microphone.
func Open(Config) (capture.Source, error) { return nil, ErrNotBuilt }
