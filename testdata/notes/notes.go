// Package notes renders single brass notes for tests with fluidsynth and the
// soundfonts that Debian packages (fluid-soundfont-gm, timgm6mb-soundfont).
// The sampled instruments are a few cents off the nominal pitch, some wobble:
// good for gross errors, onsets and repeatability, not as a measure of cents.
package notes

import (
	"encoding/binary"
	"fmt"
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

// trim cuts the file fluidsynth wrote, a canonical header of 44 bytes and
// frames of 4, to the given seconds: it renders a long silent tail.
func trim(path string, seconds float64) error {
	file, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	const header, frame = 44, 4
	if len(file) < header || string(file[36:40]) != "data" {
		return fmt.Errorf("notes: %s has no canonical header", path)
	}
	file = file[:min(len(file), header+frame*int(seconds*48000))]
	binary.LittleEndian.PutUint32(file[4:], uint32(len(file)-8))
	binary.LittleEndian.PutUint32(file[40:], uint32(len(file)-header))
	return os.WriteFile(path, file, 0o600)
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
