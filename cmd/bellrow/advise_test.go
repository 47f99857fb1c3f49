package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellrow/cmd/bellrow/advise"
)

// advised runs the command and returns its status and what it printed.
func advised(t *testing.T, stdin string, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	e := env{strings.NewReader(stdin), &out, &errs}
	code = run(t.Context(), e, append([]string{"advise"}, args...))
	return code, out.String(), errs.String()
}

func TestAdviseSays(t *testing.T) {
	for _, c := range []struct {
		name string
		args string
		want []string
	}{
		// C41, C44 of the trumpet: 10 cents are 4.27 mm, 5 mm are 11.7 cents (arithmetic from c/(2 f1)).
		{"a sharp trumpet", "--instrument trumpet_bb --cents 12 --setting main=12", []string{"Pull the main slide 5 mm.", "From 12 to 17 mm out."}},
		{"a flat tuba", "--instrument tuba_bbb --cents -10 --setting main=30", []string{"Push in the main slide 17 mm.", "From 30 to 13 mm out."}},
		{"in tune", "--instrument trumpet_bb --cents 2", []string{"Leave the slides where they are."}},
		{"near the end of the slide", "--instrument trumpet_bb --cents 33 --setting main=27", []string{"Pull the main slide 8 mm.", "14 mm are needed, 8 are left.", "Measure once", "play another note"}},
		{"the last of the slide, closed", "--instrument trumpet_bb --cents -12 --setting main=0", []string{"all the way in already", "play another note"}},
		{"a fingering that runs sharp", "--instrument trumpet_bb --note C4 --fingering 1-3 --cents 25", []string{"third valve slide", "the main slide stays"}},
		{"a transposition slip", "--instrument trumpet_bb --cents -200", []string{"That sounded as concert A♭4, your B♭4.", "your C5"}},
		{"written note", "--instrument horn_double --written C5 --cents 20", []string{"Pull the main slide"}},
		{"trombone position", "--instrument tenor_trombone_bb --note D4 --position 4 --cents 15 --chord", []string{"Move out the hand slide"}},
		{"attachment", "--instrument tenor_trombone_bbf --note C2 --position F6 --cents 24", []string{"F-attachment slide"}},
		{"first position closed", "--instrument tenor_trombone_bb --note F4 --position 1 --cents -12 --chord", []string{"all the way in already"}},
		{"low note of four valves", "--instrument tuba_cc --note F1 --fingering 1-4 --cents 45", []string{"No slide puts this low note right."}},
		{"a cold room", "--instrument trumpet_bb --cents 12 --temperature 12", []string{"lower than at 20 °C", "warm up"}},
		{"a hot room in the other unit", "--instrument trumpet_bb --cents 12 --temperature 86F", []string{"room of 86 °F", "about 20 cents higher than at 68 °F", "from 10 to 30", "A near 445 Hz"}},
		{"several notes", "--instrument trumpet_bb --note F4 --cents 9 --also Bb4_+11", []string{"Pull the main slide 4 mm.", "your two notes together"}},
		{"a note that does not tell", "--instrument trumpet_bb --note D5 --cents -14", []string{"as the fifth partial does", "Your C5 or your G4 would tell."}},
		{"a mute", "--instrument trumpet_bb --cents 14 --mute straight", []string{"A straight mute changes the pitch by itself"}},
		{"a vibrato", "--instrument trumpet_bb --cents -14 --vibrato 40", []string{"straight"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			args := strings.Fields(c.args)
			for i := range args {
				args[i] = strings.ReplaceAll(args[i], "_+", " +")
			}
			code, out, errs := advised(t, "", args...)
			if code != exitOK || errs != "" {
				t.Fatalf("status %d, stderr %q", code, errs)
			}
			for _, w := range c.want {
				if !strings.Contains(out, w) {
					t.Errorf("advise %s\nprinted %q\nwant it to hold %q", c.args, out, w)
				}
			}
		})
	}
}

// A section of four reads its tuning notes: 15 cents sharp as one, or in tune but
// for what the fifth partial does by nature (14 flat).
func TestAdviseSection(t *testing.T) {
	for _, c := range []struct {
		name, lines string
		want        []string
	}{
		{"sharp as one", "trumpet_bb Bb4 +15\nhorn_f F4 +16 main=10\n\n# low brass\ntuba_bbb Bb2 +14\neuphonium_bb_bc Bb3 +15\n",
			[]string{"The section is 15 cents sharp as one.", "Everybody out: by the common part alone, 15 cents", "A at 444 Hz", "Hear it again: ", "+1"}},
		{"fifth partials", "trumpet_bb D5 -14\ncornet_bb D5 -13\ntuba_bbb D3 -15\neuphonium_bb_bc D4 -14\n", []string{"not off as one"}},
	} {
		code, out, errs := advised(t, c.lines, "--section", "-")
		if code != exitOK || strings.Contains(strings.ToLower(out), "warm") {
			t.Errorf("%s: status %d, %q %q", c.name, code, out, errs)
		}
		for _, w := range c.want {
			if !strings.Contains(out, w) {
				t.Errorf("%s printed %q\nwant it to hold %q", c.name, out, w)
			}
		}
	}
	if code, _, errs := advised(t, "trumpet_bb Bb4 +3\ntrumpet_bb Bb4\n", "--section", "-"); code != exitUsage || !strings.Contains(errs, "line 2") {
		t.Errorf("status %d, stderr %q, want line 2 named", code, errs)
	}
}

// TestASectionAddsUp: what is read is what is shown of nature, of the common part and
// of each one's own. A little of nature is not taken out, and the middle of an even
// number of players lies between whole cents.
func TestASectionAddsUp(t *testing.T) {
	rows := 0
	for _, lines := range []string{
		"trumpet_bb Bb4 11\ntrumpet_bb F4 14\nhorn_f F4 13\ntuba_bbb Bb2 16\nhorn_f C4 12\ntrumpet_bb D5 3\n",
		"trumpet_bb Bb4 11\ntrumpet_bb F4 14\ntrumpet_bb A4 13\ntrumpet_bb G4 18\n",
		"trumpet_bb F4 -7.5\ntrumpet_bb F4 -6.4\ntrumpet_bb E4 2.5\n",
	} {
		_, out, errs := advised(t, lines, "--section", "-")
		_, table, _ := strings.Cut(out, "OWN\n")
		for row := range strings.Lines(table) {
			var in, note string
			var read, nature, common, own int
			if _, err := fmt.Sscan(row, &in, &note, &read, &nature, &common, &own); err != nil {
				t.Fatalf("%q: %v; %s", row, err, errs)
			}
			if rows++; read != nature+common+own {
				t.Errorf("%q: %d + %d + %d is not %d", row, nature, common, own, read)
			}
		}
	}
	if rows != 13 {
		t.Errorf("%d rows, need 13", rows)
	}
}

// TestAdviseSaysWhatAVibratoDoes: the move goes with the small print: twelve
// millimetres are not for 12 cents. The interval goes up by half of the extent, so
// that its middle goes up by a quarter.
func TestAdviseSaysWhatAVibratoDoes(t *testing.T) {
	_, out, errs := advised(t, "", "--instrument", "trumpet_bb", "--cents", "12", "--vibrato", "60")
	if want := "(12 cents sharp, give or take 2; for its vibrato of 60 cents taken as 27 cents sharp, give or take 17)"; !strings.Contains(out, want) {
		t.Errorf("printed %q %q, want %q", out, errs, want)
	}
	if _, straight, _ := advised(t, "", "--instrument", "trumpet_bb", "--cents", "27"); strings.SplitN(straight, "\n", 2)[0] != strings.SplitN(out, "\n", 2)[0] {
		t.Errorf("27 cents without a vibrato: %q, with one at 12: %q", straight, out)
	}
}

func TestAdviseRefusesTheImpossible(t *testing.T) {
	for _, c := range []struct {
		name string
		args []string
		want string
	}{
		{"no instrument", []string{"--cents", "5"}, "no instrument was named"},
		{"unknown instrument", []string{"--instrument", "trumpt_b", "--cents", "5"}, "trumpet_bb"},
		{"no reading", []string{"--instrument", "trumpet_bb"}, "no reading was given"},
		{"not a number", []string{"--instrument", "trumpet_bb", "--cents", "NaN"}, "not a number from"},
		{"endless", []string{"--instrument", "trumpet_bb", "--cents", "+Inf"}, "not a number from"},
		{"no such note", []string{"--instrument", "trumpet_bb", "--cents", "5", "--note", "X4"}, "it begins with no note name"},
		{"out of range", []string{"--instrument", "trumpet_bb", "--cents", "5", "--note", "C1"}, "does not play C1"},
		{"a fingering of another note", []string{"--instrument", "trumpet_bb", "--cents", "5", "--note", "Bb4", "--fingering", "1-2"}, "not played with"},
		{"no fingering", []string{"--instrument", "trumpet_bb", "--cents", "5", "--fingering", "thumb"}, "not a fingering"},
		{"a slide it does not have", []string{"--instrument", "trumpet_bb", "--cents", "5", "--setting", "hand=3"}, "no slide"},
		{"a slide off its end", []string{"--instrument", "trumpet_bb", "--cents", "5", "--setting", "main=99"}, "comes off at 45"},
		{"a slide inside the tube", []string{"--instrument", "trumpet_bb", "--cents", "5", "--setting", "main=-2"}, "cannot stand"},
		{"a setting in words", []string{"--instrument", "trumpet_bb", "--cents", "5", "--setting", "main=far"}, "does not say"},
		{"a furnace", []string{"--instrument", "trumpet_bb", "--cents", "5", "--temperature", "200"}, "makes no sense"},
		{"a room in words", []string{"--instrument", "trumpet_bb", "--cents", "5", "--temperature", "warm"}, "write the room as 21"},
		{"no such mute", []string{"--instrument", "trumpet_bb", "--cents", "5", "--mute", "sock"}, "is no mute"},
		{"another note without cents", []string{"--instrument", "trumpet_bb", "--cents", "5", "--also", "F4"}, "has no cents"},
		{"a section of nobody", []string{"--section", "-"}, "holds no player"},
		{"two notes", []string{"--instrument", "trumpet_bb", "--cents", "5", "--note", "Bb4", "--written", "C5"}, "exclude one another"},
		{"no such file", []string{"--instrument", "trumpet_bb", "--readings", "nowhere.txt"}, "there is no file"},
		{"a reference of another age", []string{"--instrument", "trumpet_bb", "--cents", "5", "--a4", "300"}, "need 390 to 480"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errs := advised(t, "", c.args...)
			if code == exitOK || out != "" {
				t.Errorf("status %d, stdout %q, want a refusal", code, out)
			}
			if !strings.Contains(errs, c.want) {
				t.Errorf("stderr %q, want it to hold %q", errs, c.want)
			}
			if lines := strings.Count(strings.TrimSpace(errs), "\n"); lines != 1 {
				t.Errorf("%q has %d line breaks, want one sentence and one hint", errs, lines)
			}
		})
	}
}

func TestAdviseReadings(t *testing.T) {
	const notes = "# three tuning notes\nBb4 +13\nF4 +11\nC4 +12 1-3\n\nD5 +2\n"
	path := filepath.Join(t.TempDir(), "notes.txt")
	if err := os.WriteFile(path, []byte(notes), 0o600); err != nil {
		t.Fatal(err)
	}
	code, out, errs := advised(t, "", "--instrument", "trumpet_bb", "--readings", path, "--json")
	if code != exitOK {
		t.Fatalf("status %d: %s", code, errs)
	}
	var got advise.Answer
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	if len(got.Notes) != 4 || len(got.Steps) == 0 || got.Steps[0].Slide != "main" {
		t.Errorf("got %+v, want a move of the main slide from 4 notes", got)
	}
	// D5 is a fifth partial, low by nature: the other notes decide.
	if mm := got.Steps[0].MM(); math.Abs(mm-5) > 1 {
		t.Errorf("main slide %+.0f mm, want about +5 for about 12 cents", mm)
	}
}

func TestAdviseTakesWhatReadPrints(t *testing.T) {
	in := `{"note":"Bb4","cents":10,"hz":468.8645,"ci95_cents":1.5,"settled":true}
{"note":"","hz":0,"settled":false,"reason":"noise"}
{"note":"F4","cents":10,"hz":351.2516,"ci95_cents":1.5,"settled":true}
`
	code, out, errs := advised(t, in, "--instrument", "trumpet_bb", "--readings", "-")
	if code != exitOK || !strings.Contains(out, "Pull the main slide 4 mm.") {
		t.Errorf("status %d, stdout %q, stderr %q; want a pull of 4 mm", code, out, errs)
	}
}

func TestAdviseNamesTheLine(t *testing.T) {
	code, _, errs := advised(t, "Bb4 +3\nBb4 loud\n", "--instrument", "trumpet_bb", "--readings", "-")
	if code != exitUsage || !strings.Contains(errs, "line 2") {
		t.Errorf("status %d, stderr %q, want line 2 named", code, errs)
	}
}

func TestInstruments(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"", "trumpet_bb"},
		{"horn_double", "B♭ slide"},
		{"--json tuba_cc", `"fundamental_hz": 32.7032`},
	} {
		var out, errs bytes.Buffer
		e := env{strings.NewReader(""), &out, &errs}
		if code := run(t.Context(), e, append([]string{"instruments"}, strings.Fields(c.args)...)); code != exitOK || !strings.Contains(out.String(), c.want) {
			t.Errorf("instruments %s: status %d, printed %q, want it to hold %q", c.args, code, out.String(), c.want)
		}
	}
}
