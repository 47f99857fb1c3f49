package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellrow/hub/piece"
)

// duet is an invented score: a trumpet in B flat over a trombone, two bars.
const duet = `<score-partwise><movement-title>Slack Water</movement-title><part-list>
<score-part id="A"><part-name>Trumpet 1</part-name></score-part><score-part id="B"><part-name>Trombone</part-name></score-part><score-part id="C"><part-name>Harp</part-name></score-part></part-list>
<part id="A"><measure number="1"><attributes><divisions>1</divisions><transpose><chromatic>-2</chromatic></transpose></attributes>
<note><pitch><step>E</step><octave>4</octave></pitch><duration>4</duration></note></measure>
<measure number="2"><note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note><barline><repeat direction="backward"/></barline></measure></part>
<part id="B"><measure number="1"><attributes><divisions>1</divisions></attributes>
<note><pitch><step>B</step><alter>-1</alter><octave>2</octave></pitch><duration>4</duration></note></measure>
<measure number="2"><note><pitch><step>E</step><alter>-1</alter><octave>3</octave></pitch><duration>4</duration></note></measure></part>
<part id="C"><measure number="1"><attributes><divisions>1</divisions></attributes><note><pitch><step>F</step><octave>4</octave></pitch><duration>4</duration></note></measure>
<measure number="2"><note><pitch><step>G</step><octave>4</octave></pitch><duration>4</duration></note></measure></part></score-partwise>`

func TestPieceSays(t *testing.T) {
	file := filepath.Join(t.TempDir(), "duet.musicxml")
	if err := os.WriteFile(file, []byte(duet), 0o600); err != nil {
		t.Fatal(err)
	}
	code, out, errs := offline(t, "", "piece", file)
	if code != exitOK || errs != "" {
		t.Fatalf("status %d, stderr %q", code, errs)
	}
	for _, w := range []string{"Slack Water", "3 parts, 2 bars, 2 held sonorities", "B♭ major", "E♭ major", "Trumpet 1 (Trumpet in B flat): the main", "where it tunes on B♭", "remain", "Trombone (Tenor trombone in B flat)", "Repeats, endings and jumps"} {
		if !strings.Contains(out, w) {
			t.Errorf("printed %q\nwant it to hold %q", out, w)
		}
	}
}

func TestPieceJSONFromStandardInput(t *testing.T) {
	code, out, _ := offline(t, duet, "piece", "--json", "--instrument", "Trumpet 1=cornet_bb", "-")
	if code != exitOK {
		t.Fatal(code)
	}
	var got piece.Report
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Parts) != 3 || got.Parts[0].Instrument != "cornet_bb" || got.Parts[0].Transposition != -2 || got.Parts[2].Instrument != "" {
		t.Errorf("parts %+v", got.Parts)
	}
	if len(got.Sonorities) != 2 || got.Sonorities[0].Chords[0] != "Bb major" || len(got.Sonorities[0].Tones) != 3 {
		t.Errorf("sonorities %+v", got.Sonorities)
	}
	if got.Plan == nil || len(got.Plan.Players) != 2 {
		t.Errorf("plan %+v", got.Plan)
	}
	if len(got.Signs) != 1 || got.Signs[0].Bar != "2" {
		t.Errorf("signs %+v", got.Signs)
	}
}

func TestPieceRefusesTheImpossible(t *testing.T) {
	for _, c := range []struct {
		name  string
		stdin string
		args  []string
		want  string
	}{
		{"no file", "", nil, "0 files, need one"},
		{"a file that is not there", "", []string{"nowhere.musicxml"}, "there is no file"},
		{"no score", "la la la", []string{"-"}, "not MusicXML"},
		{"entities", `<!DOCTYPE score-partwise [<!ENTITY a "b">]><score-partwise>&a;</score-partwise>`, []string{"-"}, "declares entities"},
		{"an unknown part", duet, []string{"--instrument", "Lute=trumpet_bb", "-"}, "has no part \"Lute\""},
		{"an unknown instrument", duet, []string{"--instrument", "Harp=harp", "-"}, "no \"harp\" in the catalogue"},
		{"half a pair", duet, []string{"--instrument", "Harp", "-"}, "does not say which instrument"},
		{"no tuning note", duet, []string{"--note", "X", "-"}, "it begins with no note name"},
		{"no length", duet, []string{"--shortest", "NaN", "-"}, "not a number from"},
	} {
		t.Run(c.name, func(t *testing.T) {
			code, out, errs := offline(t, c.stdin, "piece", c.args...)
			if code == exitOK || out != "" || !strings.Contains(errs, c.want) {
				t.Errorf("status %d, stdout %q, stderr %q; want %q", code, out, errs, c.want)
			}
		})
	}
}
