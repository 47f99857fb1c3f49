package attribute

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"bellrow/node/estimate"
	"bellrow/proto/pitch"
)

// oneSource reads chair c from its own tracks alone, as one source.
func oneSource(t *Take, c int) (pitch.Hertz, bool) {
	in := t.Input
	in.Chairs = t.Input.Chairs[c : c+1]
	return likeliest(in)
}

// twoSources reads chair c from its own microphone by the node's estimator,
// which takes a second source out when it finds one.
func twoSources(t *Take, c int) (pitch.Hertz, bool) {
	e, ok := estimate.Whole(t.Audio[c], t.Rate, estimate.Options{Call: t.Input.Chairs[c].Expected})
	return e.Hz, ok && e.Hz.Valid()
}

// Settings of aubiopitch: its default method, and a buffer of a quarter of a
// second, of which pitch estimation literature for low brass needs no less.
const (
	aubioBuffer = 4096
	aubioHop    = 512
)

// aubio reads chair c from its own microphone by the general-purpose library
// of that name (Brossier 2006): the median of its readings over the window.
func aubio(ctx context.Context, t *Take, c int) (pitch.Hertz, bool) {
	dir, err := os.MkdirTemp("", "attribute")
	if err != nil {
		return 0, false
	}
	defer os.RemoveAll(dir)
	name := filepath.Join(dir, "window.wav")
	if err := os.WriteFile(name, wav(t.Audio[c], int(t.Rate)), 0o600); err != nil {
		return 0, false
	}
	out, err := exec.CommandContext(ctx, "aubiopitch", "-i", name, "-r", "0", "-p", "yinfft",
		"-B", strconv.Itoa(aubioBuffer), "-H", strconv.Itoa(aubioHop), "-u", "freq").Output()
	if err != nil {
		return 0, false
	}
	var hz []float64
	for s := bufio.NewScanner(bytes.NewReader(out)); s.Scan(); {
		f := strings.Fields(s.Text())
		if len(f) < 2 {
			continue
		}
		if v, err := strconv.ParseFloat(f[1], 64); err == nil && v > 0 {
			hz = append(hz, v)
		}
	}
	if len(hz) == 0 {
		return 0, false
	}
	slices.Sort(hz)
	return pitch.Hertz(hz[len(hz)/2]), true
}

// wav is a 16-bit mono file, scaled to half of full scale.
func wav(x []float64, rate int) []byte {
	peak := 1e-9
	for _, v := range x {
		peak = max(peak, math.Abs(v))
	}
	var b bytes.Buffer
	put := func(v any) { _ = binary.Write(&b, binary.LittleEndian, v) }
	fmt.Fprint(&b, "RIFF")
	put(uint32(36 + 2*len(x)))
	fmt.Fprint(&b, "WAVEfmt ")
	put(uint32(16))
	put([]uint16{1, 1})
	put([]uint32{uint32(rate), uint32(2 * rate)})
	put([]uint16{2, 16})
	fmt.Fprint(&b, "data")
	put(uint32(2 * len(x)))
	for _, v := range x {
		put(int16(math.Round(v / peak * 16000)))
	}
	return b.Bytes()
}
