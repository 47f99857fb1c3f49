// Package notes renders single brass notes for tests with fluidsynth and the
// soundfonts that Debian packages (fluid-soundfont-gm, timgm6mb-soundfont).
// The sampled instruments are a few cents off the nominal pitch, some wobble:
// good for gross errors, onsets and repeatability, not as a measure of cents.
package notes

import (
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"bellrow/testdata/require"
)

// A Font is a soundfont of Debian.
type Font string

// The fonts.
const (
	Fluid Font = "/usr/share/sounds/sf2/FluidR3_GM.sf2"
	TimGM Font = "/usr/share/sounds/sf2/TimGM6mb.sf2"
)

// A Program is an instrument of the General MIDI level 1 sound set (MIDI
// Manufacturers Association 1991), counted from 0.
type Program byte

// The brass programs.
const (
	Trumpet  Program = 56
	Trombone Program = 57
	Tuba     Program = 58
	Horn     Program = 60
)

// Render writes a WAV file (48 kHz, 16 bit, stereo) of one note and returns its
// path: silence for 0.1 s, the note for the given seconds, its release. Note is
// a MIDI note number, 69 = A4.
func Render(t testing.TB, font Font, program Program, note int, seconds float64) string {
	t.Helper()
	if _, err := exec.LookPath("fluidsynth"); err != nil {
		require.Missing(t, "fluidsynth is not installed")
	}
	if _, err := os.Stat(string(font)); err != nil {
		require.Missing(t, string(font)+" is not installed")
	}
	dir := t.TempDir()
	mid, wav := filepath.Join(dir, "note.mid"), filepath.Join(dir, "note.wav")
	if err := os.WriteFile(mid, midi(program, byte(note), seconds), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("fluidsynth", "-q", "-ni", "-R", "0", "-C", "0", "-g", "0.6", "-r", "48000",
		"-F", wav, string(font), mid)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("fluidsynth: %v: %s", err, out)
	}
	if err := trim(wav, 0.1+seconds+release); err != nil {
		t.Fatal(err)
	}
	return wav
}

// release is how much is kept after the note ends, in seconds.
const release = 0.4

// The shape of the file fluidsynth writes: a canonical header, then frames of
// two 16 bit samples.
const header, frame, rate = 44, 4, 48000

// trim keeps the first so many seconds of the file: fluidsynth renders a long
// silent tail.
func trim(path string, seconds float64) error {
	data, err := frames(path)
	if err != nil {
		return err
	}
	return store(path, data[:min(len(data), frame*int(seconds*rate))])
}

// frames returns the sound of a file that fluidsynth wrote.
func frames(path string) ([]byte, error) {
	file, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	if len(file) < header || string(file[36:40]) != "data" {
		return nil, fmt.Errorf("notes: %s has no canonical header", path)
	}
	return file[header:], nil
}

// store replaces the sound of a file that fluidsynth wrote.
func store(path string, data []byte) error {
	file, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	file = append(file[:header:header], data...)
	binary.LittleEndian.PutUint32(file[4:], uint32(len(file)-8))
	binary.LittleEndian.PutUint32(file[40:], uint32(len(data)))
	return os.WriteFile(path, file, 0o600)
}

// settles is when the sampled attack is over and the loop of the soundfont
// runs, in seconds from the note's beginning: from there the fluid trombone
// and tuba repeat one period for ever.
const settles = 0.6

// fade is the length of the ramps that Steady puts at both ends, in seconds.
const fade = 0.05

// Steady is Render without the attack and the release, whose pitch differs a
// little: silence, the same pitch throughout with soft ends, silence. Whatever
// part of it is measured, the pitch is the same.
func Steady(t testing.TB, font Font, program Program, note int, seconds float64) string {
	t.Helper()
	path := Render(t, font, program, note, settles+seconds)
	data, err := frames(path)
	if err != nil {
		t.Fatal(err)
	}
	pause := make([]byte, frame*int(0.2*rate))
	core := data[frame*int((0.1+settles)*rate):][:frame*int(seconds*rate)]
	ramp(core)
	if err := store(path, append(append(pause, core...), pause...)); err != nil {
		t.Fatal(err)
	}
	return path
}

// ramp fades 16 bit stereo sound in and out.
func ramp(data []byte) {
	n := len(data) / 2
	for i := range n {
		gain := min(1, float64(i/2)/(fade*rate), float64((n-1-i)/2)/(fade*rate))
		v := int16(binary.LittleEndian.Uint16(data[2*i:]))
		binary.LittleEndian.PutUint16(data[2*i:], uint16(int16(math.Round(gain*float64(v)))))
	}
}

// ticks is the resolution of the file in ticks per second: 480 per quarter at
// 120 quarters a minute.
const ticks = 960

// midi returns a format 0 standard MIDI file of one note, reverb and chorus
// off, in the middle (Standard MIDI Files 1.0, 1988).
func midi(program Program, note byte, seconds float64) []byte {
	track := []byte{
		0, 0xB0, 91, 0, // reverb send
		0, 0xB0, 93, 0, // chorus send
		0, 0xB0, 10, 64, // pan
		0, 0xC0, byte(program),
		96, 0x90, note, 100, // after 0.1 s
	}
	track = append(track, varLen(uint32(seconds*ticks))...)
	track = append(track, 0x80, note, 0)
	track = append(track, varLen(ticks/2)...)
	track = append(track, 0xFF, 0x2F, 0)
	file := []byte("MThd\x00\x00\x00\x06\x00\x00\x00\x01\x01\xE0MTrk")
	return append(binary.BigEndian.AppendUint32(file, uint32(len(track))), track...)
}

// varLen is a variable-length quantity: seven bits a byte, the last without
// the high bit.
func varLen(n uint32) []byte {
	b := []byte{byte(n & 0x7F)}
	for n >>= 7; n > 0; n >>= 7 {
		b = append([]byte{byte(n&0x7F) | 0x80}, b...)
	}
	return b
}
