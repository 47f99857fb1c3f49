//go:build portaudio

package mic

import (
	"errors"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"bellrow/node/capture"
	"bellrow/testdata/hearing"
	"bellrow/testdata/notes"
	"bellrow/testdata/require"
	"bellrow/testdata/soundcard"
)

// samplesOf reads a whole file.
func samplesOf(t *testing.T, path string) []float64 {
	t.Helper()
	src, err := capture.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	var all []float64
	for {
		b, err := src.Read(t.Context())
		if err != nil {
			return all
		}
		all = append(all, b.Samples...)
	}
}

// record plays a file into the room and returns what the microphone hears
// meanwhile and for half a second longer, and how many samples it lost.
func record(t *testing.T, card *soundcard.Card, path string) (heard []float64, lost int64) {
	t.Helper()
	src, err := Open(Config{})
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	if got := src.Info().Rate; got != WantRate {
		t.Fatalf("rate %g Hz, want %d", got, WantRate)
	}
	read := func() {
		b, err := src.Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		heard, lost = append(heard, b.Samples...), lost+b.Lost
	}
	read() // the device runs
	played := make(chan struct{})
	go func() { defer close(played); card.Play(path) }()
	for rest := WantRate / 2; rest > 0; {
		before := len(heard)
		read()
		select {
		case <-played:
			rest -= len(heard) - before
		default:
		}
	}
	return heard, lost
}

// offset finds where in heard the sound begins, by the first samples that are
// not silent; -1 when there are none.
func offset(heard, sound []float64) int {
	first := func(x []float64) int {
		for i, v := range x {
			if v != 0 {
				return i
			}
		}
		return -1
	}
	a, b := first(heard), first(sound)
	if a < 0 || b < 0 {
		return -1
	}
	return a - b
}

// TestNoteComesThroughWhole plays a trombone note through the sound server ten
// times. Every sample of the file must arrive, in place, and the reading must
// be the file's own.
func TestNoteComesThroughWhole(t *testing.T) {
	require.Alone(t)
	const runs = 10
	card := soundcard.Start(t)
	path := notes.Steady(t, notes.Fluid, notes.Trombone, 58, 1.2)
	sound, want := samplesOf(t, path), hearing.Direct(t, path)
	for run := range runs {
		heard, lost := record(t, card, path)
		at := offset(heard, sound)
		if at < 0 || at+len(sound) > len(heard) {
			t.Fatalf("run %d: note of %d samples found at %d of %d", run, len(sound), at, len(heard))
		}
		worst := 0.0
		for i, want := range sound {
			worst = max(worst, math.Abs(heard[at+i]-want))
		}
		t.Logf("run %d: starts at sample %d, lost %d, largest difference %.2g", run, at, lost, worst)
		if lost != 0 || worst > 0 {
			t.Errorf("run %d: lost %d samples, largest difference %g, want every sample as it was", run, lost, worst)
		}
		hearing.From(t, capture.Slice(heard, WantRate), 1, time.Minute).Check(t, want, 1)
	}
}

// waitFor reads until an error, and returns it with the time it took.
func waitFor(t *testing.T, src capture.Source) (error, time.Duration) {
	t.Helper()
	start := time.Now()
	for {
		if _, err := src.Read(t.Context()); err != nil {
			return err, time.Since(start)
		}
		if time.Since(start) > 20*time.Second {
			t.Fatal("the loss was not noticed")
		}
	}
}

// TestLostAndFound takes the device away in the ways a rehearsal does, sees
// the loss said, brings the device back and hears a note again.
func TestLostAndFound(t *testing.T) {
	require.Alone(t)
	card := soundcard.Start(t)
	path := notes.Render(t, notes.Fluid, notes.Trombone, 58, 0.5)
	for _, tt := range []struct {
		name       string
		away, back func()
	}{
		{"unplugged and plugged in", card.PullOut, card.PlugIn},
		{"sound server killed and started", card.Kill, card.Restart},
	} {
		t.Run(tt.name, func(t *testing.T) {
			src, err := Open(Config{})
			if err != nil {
				t.Fatal(err)
			}
			if _, err := src.Read(t.Context()); err != nil {
				t.Fatal(err)
			}
			tt.away()
			err, took := waitFor(t, src)
			if !errors.Is(err, capture.ErrLost) {
				t.Errorf("error %v, want capture.ErrLost", err)
			}
			t.Logf("said after %v: %v", took.Round(time.Millisecond), err)
			if err := src.Close(); err != nil {
				t.Logf("close after the loss: %v", err)
			}
			tt.back()
			if heard, lost := record(t, card, path); offset(heard, samplesOf(t, path)) < 0 || lost > 0 {
				t.Errorf("after the return: lost %d samples, or no note", lost)
			}
		})
	}
}

// TestNoMicrophone: a computer without one gets a sentence, not a crash.
func TestNoMicrophone(t *testing.T) {
	t.Setenv("PULSE_SERVER", "unix:"+t.TempDir()+"/nobody")
	src, err := Open(Config{})
	if err == nil {
		src.Close()
		t.Skip("this machine has a microphone of its own")
	}
	if strings.Contains(err.Error(), "\n") {
		t.Errorf("error %q, want one line", err)
	}
	t.Log(err)
}

// TestTerminalStaysQuiet runs this test binary again, opening and losing a
// device, and reads its standard error.
func TestTerminalStaysQuiet(t *testing.T) {
	const child = "MIC_TEST_CHILD"
	if os.Getenv(child) != "" {
		devices, err := Devices()
		if err != nil || len(devices) == 0 {
			t.Fatalf("%d devices, error %v", len(devices), err)
		}
		os.Stderr.WriteString("our own words\n")
		return
	}
	soundcard.Start(t)
	cmd := exec.Command(os.Args[0], "-test.run=^TestTerminalStaysQuiet$")
	cmd.Env = append(os.Environ(), child+"=1")
	var stderr strings.Builder
	cmd.Stderr = &stderr
	if err := cmd.Run(); err != nil {
		t.Fatal(err)
	}
	if got := stderr.String(); got != "our own words\n" {
		t.Errorf("standard error %q, want only our own words", got)
	}
}
