package main

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"bellrow/cmd/bellrow/chords"
)

// offline runs a command and returns its status and what it printed.
func offline(t *testing.T, stdin, name string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	e := env{strings.NewReader(stdin), &out, &errs}
	code = run(t.Context(), e, append([]string{name}, args...))
	return code, out.String(), errs.String()
}

func TestChordSays(t *testing.T) {
	// A just B flat major triad on 116.54 Hz: 5/4 and 3/2 by arithmetic.
	const just = "Bb2=116.54@tuba_bbb,D4=291.35@tenor_trombone_bb,F4=349.62@trumpet_bb"
	for _, c := range []struct {
		name string
		args []string
		want []string
	}{
		{"a just triad", []string{"--chord", "Bb", "--tones", just}, []string{"B♭ major\n", "The chord rings."}},
		{"the same, told by ear", []string{"--tones", "116.54,291.35,349.62"}, []string{"B♭ major\n", "The chord rings."}},
		{"beside a keyboard", []string{"--chord", "Bb", "--tuning", "keyboard", "--anchor", "reference", "--tones", just}, []string{"The third is low", "belongs at 293.66 Hz"}},
		{"flat as one", []string{"--chord", "Bb", "--tones", "Bb2=116,D3=145,F3=174"}, []string{"The chord rings, 8 cents flat as one."}},
		{"two names", []string{"--tones", "C3=130.81,E4=329.63,G4=392,A4=440"}, []string{"could be C sixth or A minor seventh", "Choose with --chord"}},
		{"a high third", []string{"--chord", "Bb", "--anchor", "bass", "--tones", "Bb2=116.54,D3=147@tenor_trombone_bb,F3=174.81"}, []string{"Move out the hand slide", "(5/4)"}},
		{"another fingering", []string{"--chord", "Bb", "--anchor", "bass", "--tones", "Bb2=116.54,D4=294@trumpet_bb:1-2,F4=352@trumpet_bb:1-3"}, []string{"F4 (Trumpet in B flat) third valve slide out"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errs := offline(t, "", "chord", c.args...)
			if code != exitOK || errs != "" {
				t.Fatalf("status %d, stderr %q", code, errs)
			}
			for _, w := range c.want {
				if !strings.Contains(out, w) {
					t.Errorf("printed %q\nwant it to hold %q", out, w)
				}
			}
		})
	}
}

func TestChordJSON(t *testing.T) {
	code, out, _ := offline(t, "", "chord", "--json", "--chord", "Bb7", "--anchor", "reference", "--tones", "Bb2=116.54,D3=146.83,F3=174.61,Ab3=207.65")
	if code != exitOK {
		t.Fatal(code)
	}
	var got chords.Report
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	want := []float64{0, 13.7, -2.0, 31.2} // tempered tones against the chord chart of J. Boldin (2010): -14, +2, -31
	for i, tone := range got.Tones {
		if math.Abs(tone.Cents-want[i]) > 0.2 || tone.Source == "" {
			t.Errorf("%s is %g cents off (%s), want %g", tone.Note, tone.Cents, tone.Source, want[i])
		}
	}
	if len(got.Beats) == 0 || got.Rings {
		t.Errorf("beats %v, rings %v", got.Beats, got.Rings)
	}
}

func TestChordRefusesTheImpossible(t *testing.T) {
	for _, c := range []struct {
		name string
		args []string
		want string
	}{
		{"nothing", nil, "no tones to judge"},
		{"no number", []string{"--tones", "Bb2=high"}, "has no frequency"},
		{"not a number", []string{"--tones", "Bb2=NaN"}, "has no frequency"},
		{"an endless one", []string{"--tones", "Bb2=Inf"}, "has no frequency"},
		{"another note", []string{"--tones", "A3=220,C#4=150"}, "150 Hz sounds as D3, not as C♯4"},
		{"another octave", []string{"--tones", "A3=220,B4=247"}, "247 Hz sounds as B3, not as B4"},
		{"no note", []string{"--tones", "X2=116"}, "it begins with no note name"},
		{"unknown chord", []string{"--chord", "Bbx", "--tones", "116,174"}, "unknown kind"},
		{"unknown instrument", []string{"--tones", "Bb2=116@lyre"}, "no \"lyre\" in the catalogue"},
		{"out of reach", []string{"--tones", "Bb0=29@trumpet_bb"}, "out of reach"},
		{"no such fingering", []string{"--tones", "Bb3=233@trumpet_bb:2"}, "does not play written C4 with 2"},
		{"unknown anchor", []string{"--anchor", "ship", "--tones", "116,174"}, "--anchor ship: not one of"},
		{"unknown tuning", []string{"--tuning", "odd", "--tones", "116,174"}, "--tuning odd: not one of"},
		{"a wild reference", []string{"--a4", "1", "--tones", "116,174"}, "A4 of 1 Hz"},
		{"one tone alone", []string{"--tones", "116"}, "no known chord fits"},
		{"too many tones", []string{"--tones", strings.Repeat("116,", 100) + "116"}, "at most 100"},
		{"loose words", []string{"--tones", "116,174", "major"}, "\"major\" is not an option"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errs := offline(t, "", "chord", c.args...)
			if code == exitOK || out != "" || !strings.Contains(errs, c.want) {
				t.Errorf("status %d, stdout %q, stderr %q; want %q", code, out, errs, c.want)
			}
			if !strings.Contains(errs, "\n  ") {
				t.Errorf("no hint in %q", errs)
			}
		})
	}
}
