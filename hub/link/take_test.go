package link

import (
	"context"
	"testing"

	"bellrow/hub"
	"bellrow/proto"
	"bellrow/proto/track"
)

// ear is a hub that counts what it is told. Only what take calls is there.
type ear struct {
	Hub
	told map[proto.Type]int
}

func (e *ear) State(hub.ChairID, proto.State) { e.told[proto.TypeState]++ }
func (e *ear) Track(hub.ChairID, track.Chunk) { e.told[proto.TypeTrack]++ }
func (e *ear) Clock(hub.ChairID, proto.Ping)  { e.told[proto.TypePing]++ }
func (e *ear) Setting(context.Context, hub.ChairID, proto.Setting) error {
	e.told[proto.TypeSetting]++
	return nil
}
func (e *ear) Seconds() float64 { return 7 }

// TestOnlyTheLastConnectionSpeaks: what a displaced connection still says of the moment is
// left out; its readings count, for they are a node's whichever way they come.
func TestOnlyTheLastConnectionSpeaks(t *testing.T) {
	h := &ear{told: map[proto.Type]int{}}
	s := &Server{hub: h, nodes: map[string]*conn{}}
	conns := [2]*conn{}
	for i := range conns {
		conns[i] = &conn{server: s, node: "n", chair: 1, readings: make(chan proto.Reading, 1), out: make(chan proto.Message, 4)}
	}
	s.nodes["n"] = conns[1]
	messages := []proto.Message{
		{Type: proto.TypeState, State: &proto.State{}}, {Type: proto.TypeSetting, Setting: &proto.Setting{}},
		{Type: proto.TypeTrack, Track: &track.Chunk{}}, {Type: proto.TypePing, Ping: &proto.Ping{ID: 3, Sent: 5}}, {Type: proto.TypeReading, Reading: &proto.Reading{Sequence: 9}},
	}
	for i, c := range conns {
		h.told = map[proto.Type]int{}
		for _, m := range messages {
			c.take(t.Context(), m)
		}
		for _, m := range messages[:4] {
			if h.told[m.Type] != i {
				t.Errorf("connection %d: %s was told %d times, want %d", i, m.Type, h.told[m.Type], i)
			}
		}
		if len(c.readings) != 1 || (<-c.readings).Sequence != 9 {
			t.Errorf("connection %d: the reading is lost", i)
		}
		if len(c.out) != i {
			t.Errorf("connection %d: %d answers to its ping", i, len(c.out))
		}
	}
	if m := <-conns[1].out; m.Pong == nil || m.Pong.ID != 3 || m.Pong.Sent != 5 || m.Pong.At != 7 {
		t.Errorf("answered %+v", m.Pong)
	}
}
