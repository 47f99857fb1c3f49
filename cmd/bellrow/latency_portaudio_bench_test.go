//go:build portaudio

package main

import (
	"context"

	"bellrow/node/capture"
	"bellrow/node/mic"
	"bellrow/node/player"
)

func init() {
	microphones = append(microphones, microphone{"native", false, "", func(context.Context, *player.Microphone) (capture.Source, error) {
		return mic.Open(mic.Config{})
	}})
}
