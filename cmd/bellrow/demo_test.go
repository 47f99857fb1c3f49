package main

import (
	"context"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"bellrow/hub/show"
)

// quartet has one player of each kind that a tune-up has to cope with. Its
// members are invented; only what becomes of them is checked.
var quartet = []demoPlayer{
	{"Tuba", "Odo", "tuba_bbb", 0, 0, "build=14,seed=21"},
	{"Trombone", "Pia", "tenor_trombone_bbf", 0, 1, "build=-13,vibrato=30,seed=22"},
	{"Horn", "Quin", "horn_f", 0, 2, "build=2,wrong=concert-name,seed=23"},
	{"Trumpet", "Rosa", "trumpet_bb", 0, 3, "build=20,habit=holder,seed=24"},
}

// TestDemo tunes four simulated players through sound, nodes, discovery,
// sockets, hub and storage, in real time.
func TestDemo(t *testing.T) {
	if testing.Short() {
		t.Skip("a tune-up in real time takes half a minute")
	}
	// A busy machine renders and listens more slowly than real time.
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Minute)
	defer cancel()
	var out strings.Builder
	e := env{strings.NewReader(""), &out, testWriter{t}}
	d := &demo{out: &out, log: logger(e, false), demoBand: demoBand{section: "Quartet", players: quartet}, started: time.Now()}
	var err error
	d.station, err = openStation(ctx, stationConfig{listen: "127.0.0.1:0", data: t.TempDir(), section: "Four", announce: true, log: d.log})
	if err != nil {
		t.Fatal(err)
	}
	if err := d.run(ctx, e, true, false, false); err != nil {
		t.Fatalf("%v\n%s", err, out.String())
	}
	t.Log(out.String())
	checkQuartet(t, d.station.hub.Summary())
}

// TestDemoFast: the whole invented section is set at the end, and --json with --fast
// and --headless prints the summary and nothing else. Its seconds are those of the
// stage: no machine is too slow for them.
func TestDemoFast(t *testing.T) {
	if testing.Short() {
		t.Skip("a section of twelve takes a fast machine half a minute")
	}
	var out strings.Builder
	if code := run(t.Context(), env{strings.NewReader(""), &out, testWriter{t}}, []string{"demo", "--fast", "--headless", "--json"}); code != exitOK {
		t.Fatalf("exit %d", code)
	}
	var s show.Summary
	if err := json.Unmarshal([]byte(out.String()), &s); err != nil {
		t.Fatalf("%v in %s", err, out.String())
	}
	if s.Set != len(demoPlayers) || s.Present != len(demoPlayers) || s.Seconds <= 0 || s.Seconds > 180 {
		t.Errorf("%d of %d set after %.0f s, want all %d within 180", s.Set, s.Present, s.Seconds, len(demoPlayers))
	}
	for _, c := range s.Chairs {
		if c.Verdict != "set" {
			t.Errorf("%s: %s %s, readings %.1f, moves %q", c.Label, c.Verdict, c.Words, c.Readings, c.Moves)
		}
	}
}

func checkQuartet(t *testing.T, s show.Summary) {
	t.Helper()
	chairs := map[string]show.ChairSummary{}
	for _, c := range s.Chairs {
		chairs[c.Label] = c
	}
	// The tuba's slide moves and the pitch goes with it: within the band of
	// five cents afterwards.
	tuba := chairs["Tuba"]
	if n := len(tuba.Readings); n < 2 || math.Abs(tuba.Readings[n-1]) > 5 || len(tuba.Moves) == 0 {
		t.Errorf("tuba: readings %v after moves %q, want at least two, the last within 5 cents", tuba.Readings, tuba.Moves)
	}
	// The first counted reading of the trombone is straight, of the horn the
	// called note: within a quarter tone.
	for _, label := range []string{"Trombone", "Horn"} {
		c := chairs[label]
		if len(c.Readings) == 0 || math.Abs(c.Readings[0]) > 50 {
			t.Errorf("%s: readings %v, want the called note", label, c.Readings)
		}
	}
	if got := chairs["Trumpet"].FollowThrough; got == "" {
		t.Errorf("trumpet: no word on follow-through, want one: the player holds the pitch")
	}
}

type testWriter struct{ t *testing.T }

func (w testWriter) Write(p []byte) (int, error) {
	w.t.Log(strings.TrimSpace(string(p)))
	return len(p), nil
}
