package hub

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"bellrow/proto"
	"bellrow/proto/instrument"
)

// Peer is a node that asks for a chair.
type Peer struct {
	Node       string // stable identity of the laptop and chair
	Boot       string // this start of it
	Chair      string // the name the player gave
	Part       string
	Instrument instrument.ID
	Device     string
	Tracks     bool
	// TokenHash is stored for the node when not empty.
	TokenHash []byte
}

// Joined is what a node gets.
type Joined struct {
	Chair   ChairID
	Section string
	// Stored is the highest sequence up to which this boot is committed.
	Stored uint64
	// Replaced is the node that held the chair until now and whose view feeds
	// have ended; empty when the chair was free.
	Replaced string
}

// Join seats a node: at the chair it had, at the chair of the same name or
// label, or at a new one. Whoever joins last holds the chair, so that a
// swapped laptop takes over by giving the same name.
func (h *Hub) Join(ctx context.Context, p Peer) (Joined, error) {
	if p.Node == "" || p.Boot == "" {
		return Joined{}, errors.New("hub: join without node or boot, need both")
	}
	known, err := h.store.Node(ctx, p.Node)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return Joined{}, fmt.Errorf("hub: looking up node %s: %w", p.Node, err)
	}
	stored, err := h.store.Stored(ctx, p.Node, p.Boot)
	if err != nil {
		return Joined{}, fmt.Errorf("hub: looking up what node %s has stored: %w", p.Node, err)
	}
	if _, err := instrument.Find(p.Instrument); err != nil && h.peerChair(p, known) == 0 {
		return Joined{}, err
	}
	id := h.peerChair(p, known)
	if id == 0 {
		id = h.addChair(p)
	}
	if hash := known.TokenHash; len(p.TokenHash) == 0 && known.Node != "" && known.Chair != id {
		p.TokenHash = hash // a known node at another chair
	}
	if len(p.TokenHash) > 0 {
		rec := NodeRecord{Node: p.Node, Section: h.Section().ID, Chair: id, TokenHash: p.TokenHash, Enrolled: h.now()}
		h.journal.put(&write{key: "node/" + p.Node, do: func(ctx context.Context, s Store) error { return s.Enrol(ctx, rec) }})
	}
	j, err := h.sit(id, p, stored)
	h.flushLogged(ctx)
	return j, err
}

// peerChair finds the chair a peer means, 0 when it needs a new one.
func (h *Hub) peerChair(p Peer, known NodeRecord) ChairID {
	h.mu.Lock()
	defer h.mu.Unlock()
	if known.Chair == 0 || h.chair(known.Chair) == nil {
		known.Chair = h.knownAt[p.Node]
	}
	name := strings.TrimSpace(p.Chair)
	named := func(c Chair) bool { return name != "" && strings.EqualFold(c.Name, name) }
	// A label that the hub gave may be another player's own name: it finds a
	// chair that is free, or one that was taken by the same words.
	labelled := func(c Chair) bool {
		s := h.seats[c.ID]
		return name != "" && strings.EqualFold(c.Label, name) && (s.away() || s.node == p.Node || strings.EqualFold(s.as, name))
	}
	same := func(c Chair) bool { return named(c) || labelled(c) }
	if c := h.chair(known.Chair); known.Chair != 0 && c != nil && (name == "" || same(*c)) {
		return c.ID
	}
	for _, fits := range []func(Chair) bool{named, labelled} {
		if i := slices.IndexFunc(h.section.Chairs, fits); i >= 0 {
			return h.section.Chairs[i].ID
		}
	}
	// A player who changed the name keeps the chair, unless it is taken.
	if c := h.chair(known.Chair); known.Chair != 0 && c != nil && c.Instrument == p.Instrument {
		if s := h.seats[c.ID]; s.away() || s.node == p.Node {
			return c.ID
		}
	}
	return 0
}

// addChair makes a chair for a peer.
func (h *Hub) addChair(p Peer) ChairID {
	h.mu.Lock()
	defer h.mu.Unlock()
	c := placeFor(h.section, p)
	c.ID = ChairID(h.newID())
	h.section.Chairs = append(h.section.Chairs, c)
	h.seats[c.ID] = newSeat(c.ID)
	h.saveChair(&c)
	return c.ID
}

// placeFor proposes a label and a place: high brass in front, low brass
// behind, next to those who came before.
func placeFor(s Section, p Peer) Chair {
	c := Chair{
		Name: strings.TrimSpace(p.Chair), Part: strings.TrimSpace(p.Part), Instrument: p.Instrument,
		Label: labelFor(s, p.Instrument),
	}
	if in, err := instrument.Find(p.Instrument); err == nil && lowBrass[in.Family] {
		c.Row = 1
	}
	for _, o := range s.Chairs {
		if o.Row == c.Row {
			c.Place = max(c.Place, o.Place+1)
		}
	}
	return c
}

// labelFor numbers the chairs of a family: "Horn 3".
func labelFor(s Section, id instrument.ID) string {
	family := "Chair"
	if in, err := instrument.Find(id); err == nil {
		family = capital(in.Family)
	}
	taken := map[string]bool{}
	for _, o := range s.Chairs {
		taken[strings.ToLower(o.Label)] = true
	}
	for n := 1; ; n++ {
		label := fmt.Sprintf("%s %d", family, n)
		if !taken[strings.ToLower(label)] {
			return label
		}
	}
}

var lowBrass = map[string]bool{"trombone": true, "euphonium": true, "baritone": true, "tuba": true}

// sit puts the node in the chair.
func (h *Hub) sit(id ChairID, p Peer, stored uint64) (Joined, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	s, c := h.seats[id], h.chair(id)
	if s == nil || c == nil {
		return Joined{}, fmt.Errorf("hub: chair %d was removed: %w", id, ErrNotFound)
	}
	j := Joined{Chair: id, Section: h.section.Name}
	if s.node != "" && s.node != p.Node {
		j.Replaced = s.node
		for f := range s.feeds {
			f.end()
		}
		clear(s.feeds)
	}
	s.node, s.boot, s.device, s.tracks, s.as = p.Node, p.Boot, p.Device, p.Tracks, strings.TrimSpace(p.Chair)
	s.sound, s.clock, s.chunks = proto.State{}, clock{}, nil
	h.knownAt[p.Node] = id
	h.adopt(c, p)
	sn := h.seenBy(p.Node, p.Boot)
	sn.raise(stored)
	sn.loaded = true
	j.Stored = sn.committed()
	h.forgetSeen()
	h.arrive(id)
	h.touch()
	return j, nil
}

// adopt takes over what the player says about the chair.
func (h *Hub) adopt(c *Chair, p Peer) {
	was := c.Clone()
	if name := strings.TrimSpace(p.Chair); name != "" && !strings.EqualFold(name, c.Label) {
		c.Name = name
	}
	if part := strings.TrimSpace(p.Part); part != "" {
		c.Part = part
	}
	if _, err := instrument.Find(p.Instrument); err == nil && p.Instrument != c.Instrument {
		c.Instrument = p.Instrument
		c.Settings, c.Travel = nil, nil // other slides
	}
	if was.Name != c.Name || was.Part != c.Part || was.Instrument != c.Instrument {
		h.saveChair(c)
	}
}

// arrive lets a chair into the running round if it was not in it yet. Into a
// round called again for some, only who was not heard in this tune-up.
func (h *Hub) arrive(id ChairID) {
	r, c := h.running(), h.chair(id)
	if r == nil || c.Absent || r.Closed {
		return
	}
	if _, in := r.Call.Tones[id]; !in && !r.Call.Only && !(r.Again && h.seats[id].last() != nil) {
		r.Queue = append(r.Queue, id)
		h.giveTones(r)
		h.order(r)
		h.saveRound()
	}
	h.progress()
}

// Leave notes that a node's connection ended. It does nothing if another node
// holds the chair by now.
func (h *Hub) Leave(chair ChairID, node string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	s := h.seats[chair]
	if s == nil || s.node != node {
		return
	}
	s.node, s.sound, s.chunks, s.left = "", proto.State{}, nil, h.now()
	h.progress()
	h.touch()
}

// Node returns which node holds a chair now, "" when none.
func (h *Hub) Node(chair ChairID) string {
	h.mu.Lock()
	defer h.mu.Unlock()
	if s := h.seats[chair]; s != nil {
		return s.node
	}
	return ""
}

// seated returns the chairs in seating order, front row first, from the
// leader's left.
func (s Section) seated() []Chair {
	cs := slices.Clone(s.Chairs)
	slices.SortStableFunc(cs, func(a, b Chair) int {
		return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Place, b.Place), cmp.Compare(a.ID, b.ID))
	})
	return cs
}
