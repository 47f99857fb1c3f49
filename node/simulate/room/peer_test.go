package room

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"bellrow/testdata/require"
)

// The image model of another program, the opcode spat3di of Csound (Debian's
// csound), in the room of Allen and Berkley's example (1979, section III; its
// measures and positions from memory): 80 × 120 × 100 sample distances, here
// with six different walls. Every arrival within 40 ms must be where and as
// strong as there; images of more than peerOrder reflections come later.
const (
	peerOrder = 10
	peerRate  = 192000
	peerSpeed = 340  // m/s, built into spat3di
	peerNear  = 0.1  // spat3di attenuates as 1/(d + 0.1 m)
	peerTime  = 0.04 // s
	peerFaint = 1e-5 // below any arrival, above what its equalizers leave
)

func TestImagesAgainstAnotherProgram(t *testing.T) {
	csound, err := exec.LookPath("csound")
	if err != nil {
		require.Missing(t, "csound is not installed")
	}
	const unit = peerSpeed / 8000.0
	size := Point{80 * unit, 120 * unit, 100 * unit}
	src, mic := Point{30 * unit, 100 * unit, 40 * unit}, Point{50 * unit, 10 * unit, 60 * unit}
	walls := Walls{X: [2]float64{0.95, 0.9}, Y: [2]float64{0.85, 0.8}, Z: [2]float64{0.75, 0.7}}

	want := peerResponse(t, csound, size, src, mic, walls)
	got := make([]float64, len(want))
	far := peerTime * peerSpeed
	arrivals := 0
	Images(size, src, mic, walls, far/SpeedOfSound, func(d, g float64) {
		got[int(math.Round(d/peerSpeed*peerRate))] += g / (d + peerNear)
		arrivals++
	})
	if arrivals < 50 {
		t.Fatalf("%d arrivals, too few to tell", arrivals)
	}
	// Each side rounds an arrival to a sample in its own way: neighbouring
	// samples are summed.
	var ours, theirs float64
	for n := range int(peerTime * peerRate) {
		if math.Abs(got[n]) > peerFaint || math.Abs(want[n]) > peerFaint {
			ours, theirs = ours+got[n], theirs+want[n]
			continue
		}
		if math.Abs(ours-theirs) > peerFaint {
			t.Errorf("before %.3f m: %.6f, spat3di has %.6f", float64(n)/peerRate*peerSpeed, ours, theirs)
		}
		ours, theirs = 0, 0
	}
}

// peerResponse is spat3di's answer to one pulse.
func peerResponse(t *testing.T, csound string, size, src, mic Point, w Walls) []float64 {
	t.Helper()
	// Ceiling, floor, front (y), back, right (x), left: on, distance from the
	// listener, no randomness, level (it turns a positive one round), and an
	// equalizer that does nothing.
	wall := func(distance, level float64) string {
		return fmt.Sprintf(", 1, %.9f, 0, %.9f, 1000, 1, 0.7, 0", distance, -level)
	}
	table := fmt.Sprintf("%d, 0, 1, 0.01, 1, 1", peerOrder) +
		wall(size.Z-mic.Z, w.Z[1]) + wall(mic.Z, w.Z[0]) +
		wall(size.Y-mic.Y, w.Y[1]) + wall(mic.Y, w.Y[0]) +
		wall(size.X-mic.X, w.X[1]) + wall(mic.X, w.X[0])
	dir := t.TempDir()
	score, out := filepath.Join(dir, "room.csd"), filepath.Join(dir, "room.raw")
	text := fmt.Sprintf(`<CsoundSynthesizer>
<CsInstruments>
sr = %d
ksmps = 1
nchnls = 1
0dbfs = 1
giroom ftgen 1, 0, 64, -2, %s
instr 1
 k1 timeinstk
 kpulse = (k1 == 1 ? 1 : 0)
 a1 = a(kpulse)
 aw, ax, ay, az spat3di a1, %.9f, %.9f, %.9f, 1, 1, 0
 out aw
endin
</CsInstruments>
<CsScore>
i1 0 0.1
</CsScore>
</CsoundSynthesizer>
`, peerRate, table, src.X-mic.X, src.Y-mic.Y, src.Z-mic.Z)
	if err := os.WriteFile(score, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if said, err := exec.Command(csound, "-d", "-h", "-f", "-o", out, score).CombinedOutput(); err != nil {
		t.Fatalf("csound: %v\n%s", err, said)
	}
	raw, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	x32 := make([]float32, len(raw)/4)
	if err := binary.Read(bytes.NewReader(raw), binary.LittleEndian, x32); err != nil {
		t.Fatal(err)
	}
	x := make([]float64, len(x32))
	for i, v := range x32 {
		x[i] = float64(v)
	}
	return x
}
