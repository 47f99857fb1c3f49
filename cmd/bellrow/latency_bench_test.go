package main

import (
	"context"
	"log/slog"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/hub"
	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/node/uplink"
)

// stamped notes when each block was delivered.
type stamped struct {
	capture.Source
	mu     sync.Mutex
	blocks []delivery
}

// delivery is the index behind a block, and when it came.
type delivery struct {
	end int64
	at  time.Time
}

func (s *stamped) Read(ctx context.Context) (capture.Block, error) {
	b, err := s.Source.Read(ctx)
	if err == nil {
		s.mu.Lock()
		s.blocks = append(s.blocks, delivery{b.First + int64(len(b.Samples)), time.Now()})
		s.mu.Unlock()
	}
	return b, err
}

// when tells when the sample before index was delivered.
func (s *stamped) when(index int64) time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	i, _ := slices.BinarySearchFunc(s.blocks, index, func(d delivery, i int64) int { return int(d.end - i) })
	return s.blocks[min(i, len(s.blocks)-1)].at
}

// BenchmarkAnswer is the time from the last measured sample of a note, as the
// source delivers it, to the answer's arrival at the player's page: the
// estimate, the node, the network, the hub with its commit to the database,
// the way back and the page's socket. The device's own delay comes on top;
// a virtual sound card's was 10 to 15 ms.
func BenchmarkAnswer(b *testing.B) {
	const rate, notes = 48000, 20
	song := held(233.0819, rate, 2.6)
	song = append(song, make([]float64, rate/2)...)
	var all []float64
	for range notes {
		all = append(all, song...)
	}
	log := slog.New(slog.DiscardHandler)
	s, err := openStation(b.Context(), stationConfig{listen: "127.0.0.1:0", data: b.TempDir(), section: "Answers", log: log})
	if err != nil {
		b.Fatal(err)
	}
	src := &stamped{Source: capture.Paced(capture.Slice(all, rate))}
	var page *player.Server
	page, err = player.New(player.Config{Node: &front{}})
	if err != nil {
		b.Fatal(err)
	}
	web := httptest.NewServer(page.Handler())
	defer web.Close()
	d, err := newDesk(deskConfig{
		uplink: uplink.Config{Chair: "Trombone", Instrument: "tenor_trombone_bb", Tracks: true, Join: s.guard.JoinCode(), Hub: s.playersLink(), NoMulticast: true, Log: log},
		listen: listen.Config{ClockPPM: -1}, played: warmSeconds, page: page, log: log,
		open: func(context.Context) (capture.Source, error) { return src, nil },
	})
	if err != nil {
		b.Fatal(err)
	}
	ctx, stop := context.WithCancel(b.Context())
	var running sync.WaitGroup
	running.Go(func() { s.run(ctx) })
	defer func() { stop(); running.Wait() }()

	sheets, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(web.URL, "http")+page.Path()+"ws", nil)
	if err != nil {
		b.Fatal(err)
	}
	defer sheets.Close()
	arrived := make(chan time.Time, notes)
	running.Go(func() { answers(sheets, arrived) })
	running.Go(func() { d.run(ctx, false) })
	defer sheets.Close()

	for b.Loop() {
		var took []time.Duration
		for n := range notes {
			if err := s.call(ctx); err != nil {
				b.Fatal(err)
			}
			var at time.Time
			select {
			case at = <-arrived:
			case <-time.After(20 * time.Second):
				b.Logf("note %d: no answer", n+1)
				continue
			}
			readings, err := s.store.Readings(ctx, s.hub.Section().ID, time.Time{})
			if err != nil || len(readings) == 0 {
				b.Fatal(len(readings), err)
			}
			end := int64(readings[len(readings)-1].Wire.End * rate)
			took = append(took, at.Sub(src.when(end)))
			if n == notes-2 {
				break // the last note only rounds the song off
			}
		}
		if len(took) < notes/2 {
			b.Fatalf("%d answers to %d notes", len(took), notes)
		}
		slices.Sort(took)
		b.ReportMetric(took[len(took)/2].Seconds()*1000, "p50-ms")
		b.ReportMetric(took[len(took)*95/100].Seconds()*1000, "p95-ms")
		b.ReportMetric(took[len(took)-1].Seconds()*1000, "max-ms")
		b.ReportMetric(float64(len(took)), "answers")
	}
}

// call calls a concert B flat 3 as soon as somebody sits there.
func (s *station) call(ctx context.Context) error {
	call := hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: 58}}
	for {
		err := s.hub.Command(ctx, call)
		if err == nil || ctx.Err() != nil {
			return err
		}
		time.Sleep(20 * time.Millisecond) // nobody sits here yet
	}
}

// answers notes when the page is told another answer than before.
func answers(conn *websocket.Conn, arrived chan<- time.Time) {
	var last int64
	for {
		var sheet player.Sheet
		if conn.ReadJSON(&sheet) != nil {
			return
		}
		if sheet.Answer != nil && sheet.Answer.ID != last {
			last = sheet.Answer.ID
			arrived <- time.Now()
		}
	}
}
