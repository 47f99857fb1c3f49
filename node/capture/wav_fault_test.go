package capture

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// header is a WAV header under construction; its zero value is not valid.
type header struct {
	tag, channels, align, bits uint16
	rate, dataSize             uint32
	before                     string // raw chunks in front of fmt
}

var good = header{tag: tagPCM, channels: 1, align: 2, bits: 16, rate: 48000, dataSize: 8}

func (h header) bytes(data []byte) []byte {
	le := binary.LittleEndian
	b := append([]byte("RIFF\x00\x00\x00\x00WAVE"+h.before), "fmt \x10\x00\x00\x00"...)
	b = le.AppendUint16(b, h.tag)
	b = le.AppendUint16(b, h.channels)
	b = le.AppendUint32(b, h.rate)
	b = le.AppendUint32(b, h.rate*uint32(h.align))
	b = le.AppendUint16(b, h.align)
	b = le.AppendUint16(b, h.bits)
	b = append(b, "data"...)
	b = le.AppendUint32(b, h.dataSize)
	return append(b, data...)
}

func with(change func(*header)) header {
	h := good
	change(&h)
	return h
}

// floats encodes float32 samples.
func floats(xs ...float64) []byte {
	var b []byte
	for _, x := range xs {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x)))
	}
	return b
}

// drain reads to the end and returns how many samples came before which error.
func drain(t testing.TB, s Source) (samples int, end error) {
	t.Helper()
	for {
		b, err := s.Read(t.Context())
		if err != nil {
			return samples, err
		}
		samples += len(b.Samples)
	}
}

func TestWAVFaults(t *testing.T) {
	float := with(func(h *header) { h.tag, h.align, h.bits = tagFloat, 4, 32 })
	whole := good.bytes(make([]byte, 8))
	for _, tt := range []struct {
		name    string
		file    []byte
		samples int    // delivered before the error
		is      error  // nil: only the text counts
		text    string // part of the sentence
	}{
		{"no bytes", nil, 0, ErrEmpty, "the file is empty"},
		{"a text", []byte("Dear section, please bring a pencil."), 0, ErrNotAudio, "not a WAV"},
		{"three bytes", []byte("RIF"), 0, ErrNotAudio, "not a WAV"},
		{"big-endian", append([]byte("RIFX"), whole[4:]...), 0, nil, "convert it"},
		{"ends in the format", whole[:30], 0, ErrTruncated, "inside its header"},
		{"ends before the data", whole[:36], 0, ErrEmpty, "no data chunk"},
		{"data chunk without data", with(func(h *header) { h.dataSize = 0 }).bytes(nil), 0, ErrEmpty, "data chunk is empty"},
		{"less than one sample", with(func(h *header) { h.dataSize = 1 }).bytes([]byte{0}), 0, ErrEmpty, "less than one sample"},
		{"cut in the data", whole[:len(whole)-3], 2, ErrTruncated, "cut short"},
		{"promises an hour", with(func(h *header) { h.dataSize = 3600 * 96000 }).bytes(make([]byte, 8)), 4, ErrTruncated, "3600.0 s more after 0.0 s"},
		{"skips beyond the end", with(func(h *header) { h.before = "LIST\xff\xff\xff\xff" }).bytes(nil), 0, ErrTruncated, "inside its header"},
		{"data first", []byte("RIFF\x00\x00\x00\x00WAVEdata\x08\x00\x00\x0012345678"), 0, nil, "before the format"},
		{"compressed", with(func(h *header) { h.tag = 0x55 }).bytes(nil), 0, nil, "0x0055"},
		{"no channels", with(func(h *header) { h.channels = 0 }).bytes(nil), 0, nil, "0 channels"},
		{"rate zero", with(func(h *header) { h.rate = 0 }).bytes(nil), 0, nil, "sample rate 0 Hz"},
		{"rate of a telephone joke", with(func(h *header) { h.rate = 4e9 }).bytes(nil), 0, nil, "sample rate 4000000000 Hz"},
		{"align does not fit", with(func(h *header) { h.align = 3 }).bytes(nil), 0, nil, "damaged"},
		{"12 bit float", with(func(h *header) { h.tag, h.bits = tagFloat, 12 }).bytes(nil), 0, nil, "12 bit float"},
		{"not a number", with(func(h *header) { *h = float; h.dataSize = 12 }).bytes(floats(0.1, math.NaN(), 0.2)), 1, ErrBadSample, "not a number"},
		{"infinite", with(func(h *header) { *h = float; h.dataSize = 12 }).bytes(floats(0.1, 0.2, math.Inf(-1))), 2, ErrBadSample, "not a number"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			samples := 0
			w, err := NewWAV(bytes.NewReader(tt.file), "x.wav")
			if err == nil {
				samples, err = drain(t, w)
				if _, again := w.Read(t.Context()); again != err {
					t.Errorf("second error %v, want the same again", again)
				}
			}
			if samples != tt.samples {
				t.Errorf("%d samples before the error, want %d", samples, tt.samples)
			}
			if tt.is != nil && !errors.Is(err, tt.is) {
				t.Errorf("error %v, want %v", err, tt.is)
			}
			if err == nil || !strings.Contains(err.Error(), tt.text) || !strings.Contains(err.Error(), "x.wav") {
				t.Errorf("error %v, want one naming x.wav and saying %q", err, tt.text)
			}
			if err != nil && strings.Contains(err.Error(), "\n") {
				t.Errorf("error %q, want one line", err)
			}
		})
	}
}

// TestWAVOpenEnd reads what a program wrote into a pipe without knowing the length.
func TestWAVOpenEnd(t *testing.T) {
	for _, size := range []uint32{0x7FFFF000, 0x7FFFFFFF, 0xFFFFFFFF} {
		h := with(func(h *header) { h.dataSize = size })
		w, err := NewWAV(bytes.NewReader(h.bytes(make([]byte, 2*3000))), "pipe")
		if err != nil {
			t.Fatal(err)
		}
		if n, err := drain(t, w); n != 3000 || err != io.EOF {
			t.Errorf("size %#x: %d samples, error %v, want 3000 and io.EOF", size, n, err)
		}
	}
}

// TestWAVSkipsChunks passes chunks it does not know, odd lengths padded.
func TestWAVSkipsChunks(t *testing.T) {
	h := with(func(h *header) { h.before = "LIST\x03\x00\x00\x00abc\x00bext\x02\x00\x00\x00xy" })
	w, err := NewWAV(bytes.NewReader(h.bytes(make([]byte, 8))), "tagged")
	if err != nil {
		t.Fatal(err)
	}
	if n, err := drain(t, w); n != 4 || err != io.EOF {
		t.Errorf("%d samples, error %v, want 4 and io.EOF", n, err)
	}
}

// TestOpenFaults: what is not a sound file says so, by name, in one line.
func TestOpenFaults(t *testing.T) {
	dir := t.TempDir()
	text := filepath.Join(dir, "note.txt")
	if err := os.WriteFile(text, []byte("fLaC is what I wanted"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{filepath.Join(dir, "absent.wav"), dir, text} {
		src, err := Open(path)
		if err == nil || src != nil {
			t.Errorf("Open(%s) = %v, %v, want an error and no source", path, src, err)
			continue
		}
		if s := err.Error(); !strings.Contains(s, filepath.Base(path)) || strings.Contains(s, "\n") {
			t.Errorf("Open(%s): error %q, want one line naming the file", path, s)
		}
	}
}

// TestFLACCutShort delivers the whole frames of a cut file and says that more
// was promised.
func TestFLACCutShort(t *testing.T) {
	whole, err := os.ReadFile(filepath.Join("testdata", "format", "s16.flac"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := NewFLAC(bytes.NewReader(whole[:len(whole)-20]), "x.flac")
	if err == nil {
		_, err = drain(t, s)
	}
	if err == nil || err == io.EOF || !strings.Contains(err.Error(), "x.flac") {
		t.Errorf("cut FLAC: error %v, want one naming x.flac", err)
	}
}

func TestWriteWAVFaults(t *testing.T) {
	for name, err := range map[string]error{
		"fraction of a hertz": WriteWAV(io.Discard, []float64{0}, 44100.5),
		"rate zero":           WriteWAV(io.Discard, []float64{0}, 0),
		"not a number":        WriteWAV(io.Discard, []float64{math.NaN()}, 48000),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// checkFuzzed drains a source made from any bytes: no panic, sound samples,
// and no more of them than the bytes can hold.
func checkFuzzed(t *testing.T, s Source, limit int) {
	n := 0
	for {
		b, err := s.Read(t.Context())
		if err != nil {
			return
		}
		for _, x := range b.Samples {
			if math.IsNaN(x) || x < -1 || x > 1 {
				t.Fatalf("sample %g, want -1 to 1", x)
			}
		}
		if n += len(b.Samples); n > limit {
			t.Fatalf("more than %d samples", limit)
		}
	}
}

func FuzzWAV(f *testing.F) {
	f.Add(good.bytes(make([]byte, 8)))
	f.Add(with(func(h *header) { h.tag, h.align, h.bits = tagFloat, 4, 32 }).bytes(floats(0.5, -0.5)))
	seedFiles(f, "*.wav")
	f.Fuzz(func(t *testing.T, file []byte) {
		if w, err := NewWAV(bytes.NewReader(file), "fuzz"); err == nil {
			checkFuzzed(t, w, len(file))
		}
	})
}

func FuzzFLAC(f *testing.F) {
	seedFiles(f, "*.flac")
	f.Fuzz(func(t *testing.T, file []byte) {
		if s, err := NewFLAC(bytes.NewReader(file), "fuzz"); err == nil {
			// A constant frame of 65535 samples takes about ten bytes.
			checkFuzzed(t, s, 65536*(1+len(file)/10))
		}
	})
}

func seedFiles(f *testing.F, pattern string) {
	paths, err := filepath.Glob(filepath.Join("testdata", "format", pattern))
	if err != nil || len(paths) == 0 {
		f.Fatalf("no seeds %s: %v", pattern, err)
	}
	for _, path := range paths {
		file, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(file)
	}
}
