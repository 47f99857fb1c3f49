package main

import (
	"context"
	"math"
	"sync"
	"testing"
	"time"

	"bellrow/hub/history/study"
	"bellrow/node"
	"bellrow/node/capture"
	"bellrow/proto"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// bendDesk asks for one bent note.
type bendDesk struct {
	mu  sync.Mutex
	got []proto.Reading
}

func (d *bendDesk) Send(r proto.Reading)            { d.mu.Lock(); defer d.mu.Unlock(); d.got = append(d.got, r) }
func (d *bendDesk) State(proto.State)               {}
func (d *bendDesk) Track(track.Chunk)               {}
func (d *bendDesk) Clock(int64, float64, time.Time) {}
func (d *bendDesk) View() proto.View {
	return proto.View{Round: 1, Listen: true, Path: true, Target: 233.08}
}
func (d *bendDesk) readings() []proto.Reading { d.mu.Lock(); defer d.mu.Unlock(); return d.got }

// TestABentNoteReachesTheStudy: a tone that goes down by 10 cents and up by 8, and
// comes back, is measured so by its node, sent within the limits of the wire, and
// read so from there.
func TestABentNoteReachesTheStudy(t *testing.T) {
	const rate = 16000
	cents := func(s float64) float64 { // smooth ways between the cues of study.BendCues
		at, from := 0.0, 0.0
		for i, to := range []float64{0, -10, 0, 8, 0} {
			length := study.BendCues[i].Seconds
			if s < at+length {
				return from + (to-from)*(1-math.Cos(math.Pi*math.Min(1, (s-at)/0.8)))/2
			}
			at, from = at+length, to
		}
		return 0
	}
	samples := make([]float64, 9*rate)
	phase := 0.0
	for i := rate / 2; i < 15*rate/2; i++ {
		s := float64(i-rate/2) / rate
		phase += 2 * math.Pi * 233.08 * math.Exp2(cents(s)/1200) / rate
		for k := 1.0; k <= 6; k++ {
			samples[i] += 0.1 / k * math.Sin(k*phase)
		}
	}
	desk := &bendDesk{}
	n, err := node.New(node.Config{Uplink: desk, Open: func(context.Context) (capture.Source, error) { return capture.Slice(samples, rate), nil }})
	if err != nil {
		t.Fatal(err)
	}
	if err := n.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	got := desk.readings()
	if len(got) != 1 || got[0].Path == nil {
		t.Fatalf("%d readings %+v, need one with its path", len(got), got)
	}
	r := got[0]
	r.Sequence = 1
	if _, err := proto.Encode(proto.Message{Type: proto.TypeReading, Reading: &r}); err != nil {
		t.Fatal(err)
	}
	var path []study.Point
	for i, x := range r.Path.Tenths {
		p := study.Point{Seconds: float64(i) * r.Path.Step}
		if x != proto.NoPitch {
			p.Hz = r.Path.Hz.Shift(pitch.Cents(float64(x) / 10))
		}
		path = append(path, p)
	}
	b := study.BendTogether([]study.Bender{{Label: "trumpet", Paths: [][]study.Point{path}}})
	// A tracker's window of some 50 ms rounds nothing off a bend that rests 0.7 s.
	if math.Abs(float64(b.Down)-10) > 0.5 || math.Abs(float64(b.Up)-8) > 0.5 || math.Abs(float64(b.Back)) > 0.5 {
		t.Errorf("down %.2f, up %.2f, back %.2f; need 10, 8 and 0", b.Down, b.Up, b.Back)
	}
	t.Logf("%d points, down %.2f, up %.2f, back %.2f cents", len(path), b.Down, b.Up, b.Back)
}
