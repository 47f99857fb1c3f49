package main

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellrow/node/capture"
)

// trial runs the program and returns its status and what it printed.
func trial(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	code = run(t.Context(), env{strings.NewReader(""), &out, &errs}, args)
	return code, out.String(), errs.String()
}

// held returns a held note of the given pitch: ten partials falling by 6 dB an
// octave, between two quarters of a second of silence.
func held(hz, rate, seconds float64) []float64 {
	pause := int(rate / 4)
	x := make([]float64, pause+int(seconds*rate)+pause)
	n := int(seconds * rate)
	for i := range n {
		ramp := min(1, float64(i)/(0.03*rate), float64(n-i)/(0.03*rate))
		for k := 1.0; k <= 10 && k*hz < rate/2; k++ {
			x[pause+i] += 0.2 / k * ramp * math.Sin(2*math.Pi*k*hz*float64(i)/rate+k*k)
		}
	}
	return x
}

func writeWAV(t testing.TB, name string, samples []float64, rate float64) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := capture.WriteWAV(f, samples, rate); err != nil {
		t.Fatal(err)
	}
	return path
}

// lines decodes JSON Lines.
func lines(t *testing.T, text string) []readLine {
	t.Helper()
	var all []readLine
	dec := json.NewDecoder(strings.NewReader(text))
	for dec.More() {
		var l readLine
		if err := dec.Decode(&l); err != nil {
			t.Fatal(err)
		}
		all = append(all, l)
	}
	return all
}

// TestReadFindsTheNote: the frequency is the one the file was made with; its
// cents follow from the definition of equal temperament.
func TestReadFindsTheNote(t *testing.T) {
	const (
		tol  = 0.1  // cents; a tenth of the displayed step
		edge = 0.02 // seconds; two steps of the pitch track
	)
	for _, tt := range []struct {
		name  string
		rate  float64
		hz    float64
		note  string
		cents float64
	}{
		{"B flat 3, 10 cents flat", 48000, 233.0818808 * math.Exp2(-10.0/1200), "Bb3", -10},
		{"the same at 44.1 kHz: a mixed-up rate would be 147 cents", 44100, 233.0818808 * math.Exp2(-10.0/1200), "Bb3", -10},
		{"F1 of a tuba at 96 kHz", 96000, 43.65352893, "F1", 0},
		{"B flat 4 at 22.05 kHz, 7 cents sharp", 22050, 466.1637615 * math.Exp2(7.0/1200), "Bb4", 7},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := writeWAV(t, "note.wav", held(tt.hz, tt.rate, 2), tt.rate)
			code, out, errs := trial(t, "read", "--json", path)
			got := lines(t, out)
			if code != exitOK || len(got) != 1 {
				t.Fatalf("status %d, %d readings, stderr %q", code, len(got), errs)
			}
			l := got[0]
			if !l.Settled || l.Reason != "" || l.Note != tt.note || math.Abs(l.Cents-tt.cents) > tol {
				t.Errorf("got %+v, want settled %s %+.1f cents", l, tt.note, tt.cents)
			}
			if l.StartS < 0.25-edge || l.EndS > 2.25+edge || l.EndS <= l.StartS {
				t.Errorf("measured %.2f to %.2f s, want inside the note, 0.25 to 2.25 s", l.StartS, l.EndS)
			}
		})
	}
}

// Faint partials in between, of tones that do not wander, may be anybody's: that is
// said, to people and to programs, and the note is not settled.
func TestReadSaysOctaveInDoubt(t *testing.T) {
	x := held(233.0818808, 48000, 2)
	for i, v := range held(233.0818808/2, 48000, 2) {
		x[i] += 0.3 * v
	}
	path := writeWAV(t, "which.wav", x, 48000)
	_, out, _ := trial(t, "read", "--json", path)
	if got := lines(t, out); len(got) != 1 || !got[0].Octave || got[0].Settled || got[0].CI95 < 1200 {
		t.Errorf("got %s, want one unsettled reading whose octave is in doubt", out)
	}
	if _, out, _ = trial(t, "read", path); !strings.Contains(out, "octave in doubt") {
		t.Errorf("printed %q, want that the octave is in doubt", out)
	}
}

// A note that a program turns down while it is held is read, and what did it is said once.
func TestReadSaysThatNotesAreEaten(t *testing.T) {
	const rate = 48000
	x := held(233, rate, 4)
	for i := range x {
		x[i] *= math.Pow(10, -14.0/20*max(0, min(1, (float64(i)/rate-1.5)/0.2)))
	}
	_, stdout, stderr := trial(t, "read", writeWAV(t, "eaten.wav", x, rate))
	if strings.Count(stderr, "taken for noise") != 1 || !strings.Contains(stderr, "switch off noise suppression") || !strings.Contains(stdout, "settled") {
		t.Errorf("printed %q and %q, need a reading and what turned the note down, once", stdout, stderr)
	}
}

func TestReadWhole(t *testing.T) {
	x := held(174.6141157, 48000, 2)
	path := writeWAV(t, "f3.wav", x[12000+4800:len(x)-12000-4800], 48000)
	code, out, errs := trial(t, "read", "--json", "--whole", "--a4", "442", path)
	got := lines(t, out)
	if code != exitOK || len(got) != 1 || errs != "" {
		t.Fatalf("status %d, %d readings, stderr %q", code, len(got), errs)
	}
	// 442 Hz is 1200 log2(442/440) = 7.85 cents above 440 Hz.
	if l := got[0]; l.Note != "F3" || math.Abs(l.Cents+7.85) > 0.05 || l.StartS != 0 {
		t.Errorf("got %+v, want F3 -7.85 cents from the start", l)
	}
}

// TestReadSaysWhatIsWrong: one clear sentence naming the file, status not 0,
// and what could be read is printed all the same.
// hum is what a 50 Hz mains leaves in a cable, between silences.
func hum(samples int) []float64 {
	x := make([]float64, samples+2*12000)
	for i := range samples {
		x[12000+i] = 0.2 * math.Sin(2*math.Pi*50*float64(i)/48000)
	}
	return x
}

func TestReadSaysWhatIsWrong(t *testing.T) {
	note := held(233.08, 48000, 2)
	whole, err := os.ReadFile(writeWAV(t, "whole.wav", append(note, note...), 48000))
	if err != nil {
		t.Fatal(err)
	}
	broken := func(name string, data []byte) string {
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	for _, tt := range []struct {
		name     string
		path     string
		code     int
		says     string
		readings int
	}{
		{"silent", writeWAV(t, "silent.wav", make([]float64, 48000), 48000), exitFailed, "silent.wav: the file is silent", 0},
		{"empty", broken("empty.wav", nil), exitFailed, "is an empty file", 0},
		{"not sound", broken("letter.wav", []byte("Dear section, bring a pencil and water")), exitFailed, "not a WAV or FLAC file", 0},
		{"absent", filepath.Join(t.TempDir(), "absent.wav"), exitFailed, "there is no file", 0},
		{"cut short", broken("cut.wav", whole[:len(whole)*3/5]), exitFailed, "the readings up to there are good", 1},
		{"cut before the note", broken("cut.wav", whole[:4000]), exitFailed, "s more after 0.0 s\n  copy or record", 0},
		{"cut within the header", broken("cut.wav", whole[:30]), exitFailed, "inside its header\n  copy or record", 0},
		{"hum alone", writeWAV(t, "hum.wav", hum(2*48000), 48000), exitFailed, "no note in it has a pitch\n  hold one note", 1},
		{"a click", writeWAV(t, "click.wav", append(make([]float64, 9600), append([]float64{0.5}, make([]float64, 9600)...)...), 48000), exitFailed, "no held note", 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			code, out, errs := trial(t, "read", "--json", tt.path)
			if code != tt.code || !strings.Contains(errs, tt.says) {
				t.Errorf("status %d, stderr %q, want status %d and %q", code, errs, tt.code, tt.says)
			}
			if got := len(lines(t, out)); got < tt.readings || tt.readings == 0 && got > 0 {
				t.Errorf("%d readings, want %d", got, tt.readings)
			}
			if n := strings.Count(errs, "\n"); n > 2 {
				t.Errorf("%d lines on standard error, want a sentence and a hint: %q", n, errs)
			}
		})
	}
}

func TestReadGoesOnAfterABadFile(t *testing.T) {
	good := writeWAV(t, "good.wav", held(233.08, 48000, 2), 48000)
	code, out, errs := trial(t, "read", filepath.Join(t.TempDir(), "absent.wav"), good)
	if code != exitFailed || !strings.Contains(out, "B♭3") || !strings.Contains(errs, "1 of 2 files") {
		t.Errorf("status %d, stdout %q, stderr %q", code, out, errs)
	}
}

func TestReadUsage(t *testing.T) {
	for _, args := range [][]string{{"read"}, {"read", "--a4", "0", "x.wav"}, {"read", "--a4", "NaN", "x.wav"}, {"read", "--loud", "x.wav"}} {
		if code, _, errs := trial(t, args...); code != exitUsage || errs == "" {
			t.Errorf("%v: status %d, stderr %q, want status %d and a sentence", args, code, errs, exitUsage)
		}
	}
}
