package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/piece"
	"bellrow/hub/show"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// What follows tries advice as somebody does who knows brass and not this program:
// by the commands alone. What a teacher would say is common practice without a
// source, except where one is named.

// TestATeacherTriesAdvise: one reading each; what is said, and what must not be.
func TestATeacherTriesAdvise(t *testing.T) {
	for _, c := range []struct{ args, says, never string }{
		// The fifth partial lies 14 cents flat by nature; 1-3 and 1-2-3 are sharp
		// (arithmetic: 30 and 54 cents where each valve is exact).
		{"--instrument horn_f --note A3 --fingering open --cents -14", "as the fifth partial does", "Push in"},
		{"--instrument tenor_horn_eb --note D4 --fingering 1-3 --cents 25", "Leave the main slide|1-3 is sharp by nature", "Pull the main"},
		{"--instrument euphonium_bb_bc --note F3 --fingering 1-3 --cents 30", "Leave the main slide", "Pull the main"},
		{"--instrument trumpet_bb --written C#4 --cents 30", "1-2-3 is sharp by nature", "Pull the main"},
		{"--instrument trumpet_bb --written E5 --cents -15", "as the fifth partial does", "Push in"},
		// A hand-slide note outside closed first position is placed by ear.
		{"--instrument tenor_trombone_bb --note A3 --cents 12", "your ear places this note", "Pull the bell slide"},
		// The hand slide of the F attachment stands fully out in sixth position.
		{"--instrument tenor_trombone_bbf --note C2 --position F6 --cents -10 --chord", "Bring in the hand slide", "all the way in"},
		// Limits by the kind of slide; measure before "as far as it goes".
		{"--instrument flugelhorn_bb --cents 12", "Pull the lead-pipe shank 10 mm", "technician"},
		{"--instrument trumpet_bb --written D4 --fingering 1-3 --cents 25", "third valve slide", "technician"},
		{"--instrument trumpet_bb --cents 33 --setting main=27", "Measure once|14 mm are needed, 8 are left", "14 mm are left|technician"},
		// What moves a note while it sounds, and what puts a low note right.
		{"--instrument tuba_cc --note F1 --fingering 1-4 --cents 12", "first valve slide", "No slide puts this"},
		{"--instrument trumpet_c --note A4 --cents 12", "For the main slide, your B♭4 or your F4 would tell", "technician"},
		{"--instrument trumpet_bb --note F4 --cents 9 --also Bb4_+11", "your two notes together", "1 notes"},
		{"--instrument trumpet_bb --written C5 --cents -12 --chord --setting main=0", "nothing moves this note while it sounds", "moves with the main slide"},
	} {
		args := strings.Fields(c.args)
		for i := range args {
			args[i] = strings.ReplaceAll(args[i], "_+", " +")
		}
		code, out, errs := advised(t, "", args...)
		if code != exitOK || !either(out, c.says) {
			t.Errorf("advise %s\n  status %d: %s%s\n  want %q", c.args, code, out, errs, c.says)
		}
		if either(out, c.never) {
			t.Errorf("advise %s\n  says %q\n  must not say %q", c.args, out, c.never)
		}
	}
}

// either reports whether text holds one of the words between strokes.
func either(text, words string) bool {
	return slices.ContainsFunc(strings.Split(words, "|"), func(w string) bool { return strings.Contains(text, w) })
}

// TestATeacherTriesChords: chords as a keyboard tempers them. The sentence names
// what is heard: root and fifth roll slowly, so they stand, whatever is on top.
func TestATeacherTriesChords(t *testing.T) {
	hz := func(note string) string {
		n, err := pitch.ParseNote(note)
		if err != nil {
			t.Fatal(err)
		}
		return fmt.Sprintf("%s=%.3f", note, 440*math.Exp2(float64(n-69)/12))
	}
	tones := func(notes string) string {
		var out []string
		for _, n := range strings.Fields(notes) {
			out = append(out, hz(n))
		}
		return strings.Join(out, ",")
	}
	for _, c := range []struct{ chord, notes, says string }{
		{"F7", "F3 A3 C4 Eb4", "The seventh is high|the third is high"},
		{"F7", "F2 F3 A3 C4 Eb4", "the third is high"},
		{"Fmaj7", "F3 A3 C4 E4", "The third is high"},
		{"F6", "F3 A3 C4 D4", "The sixth is high"},
		{"Fm7", "F3 Ab3 C4 Eb4", "the third is low"},
	} {
		code, out, errs := offline(t, "", "chord", "--chord", c.chord, "--tones", tones(c.notes))
		if code != exitOK || !either(out, c.says) || strings.Contains(out, "root is") || strings.Contains(out, "the fifth is") {
			t.Errorf("%s, tempered: %d %s%s, want %q", c.chord, code, out, errs, c.says)
		}
		for _, tone := range []string{"the root", "the fifth"} {
			for _, line := range strings.Split(out, "\n") {
				if strings.Contains(line, ", "+tone+",") && !strings.HasPrefix(strings.TrimSpace(line), "set") {
					t.Errorf("%s: %q", c.chord, line)
				}
			}
		}
	}
	// Root and third, root and fifth, a unison and an octave are chords.
	for notes, name := range map[string]string{"D2 D3 F#4": "D major third", "D2 A3": "D open fifth", "D3 D4": "D unison", "C3 E3 G3 D4": "C added ninth", "C3 E3 G3 A3 D4": "C sixth with ninth",
		"C3 E3 Ab3 Bb3": "C augmented seventh", "C3 E3 Bb3 D4 A4": "C dominant thirteenth", "C3 F3 G3 Bb3": "C suspended seventh"} {
		if _, out, errs := offline(t, "", "chord", "--tones", tones(notes)); !strings.Contains(out, name) {
			t.Errorf("%s is named %s%s, want %s", notes, out, errs, name)
		}
	}
	if code, _, errs := offline(t, "", "chord", "--chord", "C wobbly", "--tones", "116,174"); code == exitOK || !strings.Contains(errs, "the kinds are major, minor") || strings.Contains(errs, "intonation:") {
		t.Errorf("an unknown kind: status %d, %q", code, errs)
	}
}

// TestATeacherTriesParts: names of parts as they stand on the stand, each with the
// transposition of its part; "" is no brass, "?" asks.
func TestATeacherTriesParts(t *testing.T) {
	for _, c := range []struct {
		name, others  string
		transposition int
		want          string
	}{
		{"Solo Horn", "Solo Cornet|Repiano Cornet", -9, "tenor_horn_eb"}, {"Tenorhorn", "Solo Cornet|Repiano Cornet", -9, "tenor_horn_eb"},
		{"Fliscorno", "", -2, "flugelhorn_bb"}, {"Corno inglese", "", -7, "english_horn"}, {"Trombone basse", "", 0, "bass_trombone"}, {"Trompette", "", -2, "trumpet_bb"},
		{"Bb Trumpet", "Oboe", 0, "trumpet_bb"}, {"Cor", "", -7, "horn"}, {"Trompa", "", -7, "horn"}, {"Bariton", "", -14, "baritone"}, {"Trombón", "", 0, "tenor_trombone"},
		{"Tpt.", "", -2, "trumpet_bb"}, {"Hn.", "", -7, "horn"}, {"Hoorn in F", "", -7, "horn"}, {"Posaune", "", 0, "tenor_trombone"}, {"Horn in Eb", "", -9, "?"},
	} {
		names := append([]string{c.name}, strings.Split(c.others, "|")...)
		if c.others == "" {
			names = append(names[:1], "Flute")
		}
		var list, parts strings.Builder
		for i, n := range names {
			transposition := 0
			if i == 0 {
				transposition = c.transposition
			} else if strings.Contains(n, "Cornet") {
				transposition = -2
			}
			fmt.Fprintf(&list, `<score-part id="P%d"><part-name>%s</part-name></score-part>`, i, n)
			fmt.Fprintf(&parts, `<part id="P%d"><measure number="1"><attributes><divisions>1</divisions><transpose><chromatic>%d</chromatic></transpose></attributes><note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note></measure></part>`, i, transposition)
		}
		xml := "<score-partwise><part-list>" + list.String() + "</part-list>" + parts.String() + "</score-partwise>"
		file := filepath.Join(t.TempDir(), "part.musicxml")
		if err := os.WriteFile(file, []byte(xml), 0o600); err != nil {
			t.Fatal(err)
		}
		if c.want == "?" {
			if _, out, errs := offline(t, "", "piece", file); !strings.Contains(out, c.name+" could be") {
				t.Errorf("%s is not asked about: %s%s", c.name, out, errs)
			}
			continue
		}
		_, out, errs := offline(t, "", "piece", "--json", file)
		var got piece.Report
		if err := json.Unmarshal([]byte(out), &got); err != nil {
			t.Fatalf("%s: %v in %s%s", c.name, err, out, errs)
		}
		if id := string(got.Parts[0].Instrument); c.want == "" && id != "" || !strings.HasPrefix(id, c.want) {
			t.Errorf("%s by %d is taken for %q, want %q", c.name, c.transposition, id, c.want)
		}
	}
}

// TestATeacherTriesTheHub: four perfect horns through sound, nodes, sockets and hub,
// in real time. Whatever is called, no main slide moves and nobody is called flat
// as one.
func TestATeacherTriesTheHub(t *testing.T) {
	if testing.Short() {
		t.Skip("two rounds in real time take a minute")
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Minute)
	defer cancel()
	var players []demoPlayer
	for i, in := range []instrument.ID{"horn_double", "horn_f", "horn_double", "trumpet_bb"} {
		players = append(players, demoPlayer{fmt.Sprintf("Chair %d", i+1), fmt.Sprintf("P%d", i+1), in, 0, i, fmt.Sprintf("build=0,seed=%d", 31+i)})
	}
	d := &demo{out: &strings.Builder{}, log: logger(env{stderr: testWriter{t}}, false), demoBand: demoBand{players: players}, started: time.Now()}
	var err error
	d.station, err = openStation(ctx, stationConfig{listen: "127.0.0.1:0", section: "Horns", log: d.log})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(ctx)
	var running sync.WaitGroup
	defer running.Wait()
	defer stop()
	running.Go(func() { _ = d.station.run(ctx) })
	h := d.station.hub
	if err := h.Command(ctx, hub.Command{Do: hub.DoEdit, Section: d.setUp()}); err != nil {
		t.Fatal(err)
	}
	if err := d.seat(ctx, &running); err != nil {
		t.Fatal(err)
	}
	for _, note := range []pitch.Note{69, 62} { // A, D
		if err := h.Command(ctx, hub.Command{Do: hub.DoCall, Call: &hub.Call{Note: note}}); err != nil {
			t.Fatal(err)
		}
		r := until(ctx, t, h, "the end of the round", func(r show.Row) bool {
			return r.Round != nil && (r.Round.Done || r.SayKind == "room")
		})
		if r.SayKind == "room" || strings.Contains(r.Section.Common, "as one") {
			t.Errorf("%s: %q, %q", note.ClassName(), r.Say, r.Section.Common)
		}
		for _, c := range r.Chairs {
			cents := math.NaN()
			if c.Cents != nil {
				cents = *c.Cents
			}
			t.Logf("%s, %s plays %s: %+.1f cents, %s", note.ClassName(), c.Label, c.Concert, cents, c.Headline)
			for _, m := range c.Moves {
				if m.ID == "main" && math.Abs(m.ToMM-m.FromMM) > 6 { // 5 cents of a horn; a fifth partial would ask for 16 mm
					t.Errorf("%s: %s is told %q at %+.1f cents", note.ClassName(), c.Label, c.Headline, cents)
				}
			}
		}
	}
}
