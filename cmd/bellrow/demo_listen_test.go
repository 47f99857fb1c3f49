package main

import (
	"context"
	"strings"
	"sync"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/session"
	"bellrow/hub/show"
)

// TestDemoListens: the section holds a chord that nobody called, and the hub
// names it, through sound, nodes, sockets and the attribution by all
// microphones; a chord that is chosen is judged by what was heard. Which note
// the players hold is known; how well they are in tune is not checked.
func TestDemoListens(t *testing.T) {
	if testing.Short() {
		t.Skip("a chord in real time takes half a minute")
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Minute)
	defer cancel()
	players := []demoPlayer{
		{"Tuba", "Odo", "tuba_bbb", 0, 0, "build=4,seed=21"},
		{"Trombone", "Pia", "tenor_trombone_bbf", 0, 1, "build=-3,seed=22"},
		{"Horn", "Quin", "horn_f", 0, 2, "build=2,seed=23"},
		{"Trumpet", "Rosa", "trumpet_bb", 0, 3, "build=6,seed=24"},
	}
	d := &demo{out: &strings.Builder{}, log: logger(env{stderr: testWriter{t}}, false), demoBand: demoBand{players: players}, started: time.Now()}
	var err error
	d.station, err = openStation(ctx, stationConfig{listen: "127.0.0.1:0", data: t.TempDir(), section: "Four", announce: true, log: d.log})
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
	clocks(ctx, t)
	var r show.Row
	for range 3 { // a busy machine tears the sound: a leader listens again
		began := time.Now()
		if err := h.Command(ctx, hub.Command{Do: hub.DoListen}); err != nil {
			t.Fatal(err)
		}
		r = until(ctx, t, h, "the chord", func(r show.Row) bool { return r.Round != nil && r.Round.Listening && r.Round.Done })
		t.Logf("after %.1f s: %s", time.Since(began).Seconds(), r.Round.Sentence)
		if strings.Contains(r.Say, "B♭ major") {
			break
		}
	}
	if !strings.Contains(r.Say, "B♭ major") {
		t.Errorf("the row says %q, want B♭ major", r.Say)
	}
	if strings.Contains(r.Round.Sentence, "Each laptop was believed by itself") {
		t.Errorf("%q: no tracks came", r.Round.Sentence)
	}
	if err := h.Command(ctx, hub.Command{Do: hub.DoChoose, Name: "B♭ major"}); err != nil {
		t.Fatal(err)
	}
	for _, c := range h.Row().Chairs {
		if c.Cents == nil {
			t.Errorf("%s was heard and is not judged: %+v", c.Label, c)
		}
	}
	t.Log(h.Row().Say)
}

// until waits for a row.
func until(ctx context.Context, t *testing.T, h *session.Session, what string, ok func(show.Row) bool) show.Row {
	t.Helper()
	feed := h.FollowRow()
	defer feed.Close()
	for {
		if r := h.Row(); ok(r) {
			return r
		}
		select {
		case <-ctx.Done():
			t.Fatalf("%s never came; the row says %q", what, h.Row().Say)
		case <-feed.C():
		}
	}
}

// clocks waits until the hub knows the laptops' clocks: they exchange pings in
// their first seconds.
func clocks(ctx context.Context, t *testing.T) {
	t.Helper()
	select {
	case <-ctx.Done():
		t.Fatal("too late")
	case <-time.After(5 * time.Second):
	}
}
