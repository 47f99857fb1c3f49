package uplink

import (
	"sync"

	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/track"
)

// outbox holds what is to be sent beside readings: the latest state, the
// latest setting of each slide, and a few tracks. It is safe for concurrent use.
type outbox struct {
	mu        sync.Mutex
	connected bool
	state     *proto.State
	last      proto.State // the latest one
	names     string      // how the player wants notes named; see proto.State
	language  string      // what the player's page is in
	settings  []proto.Setting
	tracks    []track.Chunk
}

// maxTracks bounds the chunks that wait for a slow line: a few seconds, after
// which they come too late to tell players apart.
const maxTracks = 16

func (o *outbox) setState(s proto.State) {
	o.mu.Lock()
	defer o.mu.Unlock()
	s.Names, s.Language = o.names, o.language
	o.state, o.last = &s, s
}

// setNames goes with every state, and with the last one once more.
func (o *outbox) setNames(names string) { o.setReader(func() { o.names = names }) }

// setLanguage see setNames.
func (o *outbox) setLanguage(tag string) { o.setReader(func() { o.language = tag }) }

func (o *outbox) setReader(change func()) {
	o.mu.Lock()
	defer o.mu.Unlock()
	change()
	o.last.Names, o.last.Language = o.names, o.language
	if o.last.State != "" {
		s := o.last
		o.state = &s
	}
}

func (o *outbox) addSetting(s proto.Setting) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for i := range o.settings {
		if o.settings[i].Slide == s.Slide {
			o.settings[i] = s
			return
		}
	}
	o.settings = append(o.settings, s)
}

func (o *outbox) addTrack(c track.Chunk) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	if !o.connected || len(o.tracks) >= maxTracks {
		return false
	}
	o.tracks = append(o.tracks, c)
	return true
}

// connect starts or ends taking tracks.
func (o *outbox) connect(on bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.connected = on
	o.tracks = nil
}

// take empties the outbox into messages.
func (o *outbox) take() []proto.Message {
	o.mu.Lock()
	defer o.mu.Unlock()
	var out []proto.Message
	for i := range o.settings {
		out = append(out, proto.Message{Type: proto.TypeSetting, Setting: &o.settings[i]})
	}
	if o.state != nil {
		out = append(out, proto.Message{Type: proto.TypeState, State: o.state})
	}
	for i := range o.tracks {
		out = append(out, proto.Message{Type: proto.TypeTrack, Track: &o.tracks[i]})
	}
	o.settings, o.state, o.tracks = nil, nil, nil
	return out
}

// putBack returns settings that may not have arrived. A newer one of the
// same slide wins.
func (o *outbox) putBack(unsent []proto.Message) {
	o.mu.Lock()
	defer o.mu.Unlock()
	newer := map[instrument.SlideID]bool{}
	for _, s := range o.settings {
		newer[s.Slide] = true
	}
	for _, m := range unsent {
		if m.Setting != nil && !newer[m.Setting.Slide] {
			o.settings = append(o.settings, *m.Setting)
		}
	}
}
