package estimate

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"

	"bellrow/node/capture"
)

// rate is the sample rate of everything measured here, in Hz.
const rate = 48000

// note is one recorded or rendered note.
type note struct {
	name    string
	midi    int
	choir   bool // several players at once: it has no single true pitch
	samples []float64
}

// The rendered notes: brass programs of the two General MIDI soundfonts that
// Debian packages (fluid-soundfont-gm, timgm6mb-soundfont), over each
// instrument's range, loud but not brassy, without reverberation or chorus.
var (
	fonts = []struct{ label, path string }{
		{"fluid", "/usr/share/sounds/sf2/FluidR3_GM.sf2"},
		{"timgm", "/usr/share/sounds/sf2/TimGM6mb.sf2"},
	}
	programs = []struct {
		name   string
		number byte // General MIDI program, from 0
		choir  bool
		notes  []byte
	}{
		{"trumpet", 56, false, []byte{55, 58, 62, 65, 69, 70, 74, 77, 82}},
		{"trombone", 57, false, []byte{40, 43, 46, 50, 53, 55, 58, 60, 62, 65, 70}},
		{"tuba", 58, false, []byte{29, 34, 36, 39, 41, 46, 48, 53}},
		{"horn", 60, false, []byte{41, 46, 48, 53, 55, 58, 60, 65, 70}},
		{"brasssection", 61, true, []byte{46, 53, 58, 65, 70}},
	}
)

// Where notes lie in a rendering.
const (
	noteOn      = 0.1 // seconds from the note's slot
	noteHeld    = 3.0
	noteSlot    = 4.0
	ticksPerSec = 960
)

// errNoSynth says that the notes cannot be rendered here.
var errNoSynth = errors.New("accuracy: fluidsynth or its soundfonts are not installed")

// render returns the rendered notes, every step-th of each program. It returns
// errNoSynth when the synthesiser or a soundfont is missing.
func render(ctx context.Context, step int) ([]note, error) {
	synth, err := exec.LookPath("fluidsynth")
	if err != nil {
		return nil, errNoSynth
	}
	dir, err := os.MkdirTemp("", "bellrow-notes-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	var all []note
	for _, font := range fonts {
		if _, err := os.Stat(font.path); err != nil {
			return nil, errNoSynth
		}
		for _, p := range programs {
			var keys []byte
			for i := 0; i < len(p.notes); i += step {
				keys = append(keys, p.notes[i])
			}
			x, err := play(ctx, synth, font.path, dir, p.number, keys)
			if err != nil {
				return nil, err
			}
			for i, key := range keys {
				from, to := int(float64(i)*noteSlot*rate), int((float64(i)*noteSlot+3.5)*rate)
				if to > len(x) {
					return nil, fmt.Errorf("accuracy: %s %s: rendering of %d samples, need %d", font.label, p.name, len(x), to)
				}
				all = append(all, note{
					name: fmt.Sprintf("%s_%s_%d", font.label, p.name, key), midi: int(key), choir: p.choir,
					samples: x[from:to],
				})
			}
		}
	}
	return all, nil
}

// play renders keys one after the other and returns the left channel.
func play(ctx context.Context, synth, font, dir string, program byte, keys []byte) ([]float64, error) {
	midi, wav := filepath.Join(dir, "notes.mid"), filepath.Join(dir, "notes.wav")
	if err := os.WriteFile(midi, midiFile(program, keys), 0o600); err != nil {
		return nil, err
	}
	cmd := exec.CommandContext(ctx, synth, "-q", "-n", "-i", "-R", "0", "-C", "0", "-g", "0.6", "-r", fmt.Sprint(rate), "-F", wav, font, midi)
	if out, err := cmd.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("accuracy: fluidsynth: %w: %s", err, bytes.TrimSpace(out))
	}
	return readWAV(ctx, wav)
}

// readWAV reads a whole file.
func readWAV(ctx context.Context, path string) ([]float64, error) {
	w, err := capture.OpenWAV(path)
	if err != nil {
		return nil, err
	}
	defer w.Close()
	var x []float64
	for {
		b, err := w.Read(ctx)
		if errors.Is(err, io.EOF) {
			return x, nil
		}
		if err != nil {
			return nil, err
		}
		x = append(x, b.Samples...)
	}
}

// midiFile writes a Standard MIDI File of format 0: 480 ticks per beat, 120
// beats per minute, reverb and chorus sends off, pan in the middle.
func midiFile(program byte, keys []byte) []byte {
	var ev []byte
	after := func(ticks int, message ...byte) {
		ev = append(append(ev, variable(ticks)...), message...)
	}
	after(0, 0xB0, 91, 0)
	after(0, 0xB0, 93, 0)
	after(0, 0xB0, 10, 64)
	after(0, 0xC0, program)
	wait := int(noteOn * ticksPerSec)
	for _, k := range keys {
		after(wait, 0x90, k, 100)
		after(int(noteHeld*ticksPerSec), 0x80, k, 0)
		wait = int((noteSlot - noteHeld) * ticksPerSec)
	}
	after(2*ticksPerSec, 0xFF, 0x2F, 0)
	var out bytes.Buffer
	out.WriteString("MThd")
	for _, v := range []any{uint32(6), uint16(0), uint16(1), uint16(480)} {
		binary.Write(&out, binary.BigEndian, v) // a bytes.Buffer does not fail
	}
	out.WriteString("MTrk")
	binary.Write(&out, binary.BigEndian, uint32(len(ev)))
	out.Write(ev)
	return out.Bytes()
}

// variable is a MIDI variable-length quantity.
func variable(x int) []byte {
	b := []byte{byte(x & 127)}
	for x >>= 7; x > 0; x >>= 7 {
		b = append([]byte{byte(x&127) | 128}, b...)
	}
	return b
}
