// Package mic is the native microphone: a capture.Source over PortAudio.
//
// PortAudio is a C library, so it is compiled in only with `-tags portaudio`;
// without the tag Open and Devices say how to get it, and the player's own
// page in the browser (node/player) is the microphone instead.
//
// The device callback copies into a capture.Ring and returns. A device that
// goes away ends the source with capture.ErrLost; opening again then starts
// PortAudio afresh, which is the only way it looks for devices again.
package mic

import (
	"errors"
	"fmt"
	"log/slog"
	"strings"
)

// ErrNotBuilt is what Open and Devices return in a build without PortAudio.
var ErrNotBuilt = errors.New("this build has no native microphone: " +
	"open your own page in the browser and use the microphone there, " +
	"or install the Debian package, or build with -tags portaudio")

// ErrNoDevice is returned when there is no microphone, or none of that name.
var ErrNoDevice = errors.New("no such microphone")

// WantRate is the rate asked of every device, in Hz: what sound hardware runs
// at today. The rate used is the one the device then states.
const WantRate = 48000

// Config chooses a microphone.
type Config struct {
	// Device is its name as Devices lists it, with or without the host API in
	// front, or a part of it that fits one device only. Empty means the default.
	Device string
	// Log gets what the library prints; nil discards it.
	Log *slog.Logger
}

// A Device is a microphone that can be opened.
type Device struct {
	API      string // host API, such as ALSA or Core Audio
	Name     string
	Channels int
	Rate     float64 // default rate in Hz, as the host API states it
	Default  bool
}

// String names a device so that Config.Device finds it again. The position in
// the list would not: it changes when something is plugged in.
func (d Device) String() string { return d.API + ": " + d.Name }

// choose finds the wanted device: by full name, by name, or by a part of it.
func choose(devices []Device, want string) (Device, error) {
	if len(devices) == 0 {
		return Device{}, fmt.Errorf("mic: %w: this computer lists none, plug one in or allow access to it", ErrNoDevice)
	}
	for _, fits := range []func(d Device) bool{
		func(d Device) bool { return want == "" && d.Default },
		func(d Device) bool { return d.String() == want },
		func(d Device) bool { return d.Name == want },
		func(d Device) bool {
			return want != "" && strings.Contains(strings.ToLower(d.String()), strings.ToLower(want))
		},
	} {
		var found []Device
		for _, d := range devices {
			if fits(d) {
				found = append(found, d)
			}
		}
		if len(found) == 1 {
			return found[0], nil
		}
		if len(found) > 1 {
			return Device{}, fmt.Errorf("mic: %q fits several microphones: %s", want, list(found))
		}
	}
	if want == "" {
		return Device{}, fmt.Errorf("mic: %w: none is the default, choose one of: %s", ErrNoDevice, list(devices))
	}
	return Device{}, fmt.Errorf("mic: %w: %q, there are: %s", ErrNoDevice, want, list(devices))
}

func list(devices []Device) string {
	names := make([]string, len(devices))
	for i, d := range devices {
		names[i] = d.String()
	}
	return strings.Join(names, "; ")
}
