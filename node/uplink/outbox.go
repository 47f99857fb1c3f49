package uplink

import (
	"slices"
	"sync"

	"bellrow/proto"
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
	sent      []sentSetting
	tracks    []track.Chunk
}

// sentSetting was written to the line, and then the ping of a number: the hub takes one
// message after the other, so that its answer says that it has taken the setting. A line
// that dies before may have lost it.
type sentSetting struct {
	proto.Setting
	ping uint64
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

// connect starts or ends taking tracks. Settings that may not have arrived go again; a
// newer one of the same slide wins.
func (o *outbox) connect(on bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.connected = on
	o.tracks = nil
	for _, s := range o.sent {
		if !slices.ContainsFunc(o.settings, func(newer proto.Setting) bool { return newer.Slide == s.Slide }) {
			o.settings = append(o.settings, s.Setting)
		}
	}
}

// answered notes that the hub has answered a ping.
func (o *outbox) answered(ping uint64) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.sent = slices.DeleteFunc(o.sent, func(s sentSetting) bool { return s.ping <= ping })
}

// take empties the outbox into messages, ping being the number of the next ping. It
// reports whether settings are among them, so that this ping is to follow.
func (o *outbox) take(ping uint64) (out []proto.Message, settings bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for i, set := range o.settings {
		out = append(out, proto.Message{Type: proto.TypeSetting, Setting: &o.settings[i]})
		o.sent = slices.DeleteFunc(o.sent, func(older sentSetting) bool { return older.Slide == set.Slide })
		o.sent = append(o.sent, sentSetting{set, ping})
	}
	settings = len(o.settings) > 0
	if o.state != nil {
		out = append(out, proto.Message{Type: proto.TypeState, State: o.state})
	}
	for i := range o.tracks {
		out = append(out, proto.Message{Type: proto.TypeTrack, Track: &o.tracks[i]})
	}
	o.settings, o.state, o.tracks = nil, nil, nil
	return out, settings
}
