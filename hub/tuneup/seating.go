package tuneup

import (
	"maps"
	"slices"
	"strings"

	"bellrow/hub"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
)

// step seats a node: at the chair it had, at the chair of the same name or
// label, or at a new one. Whoever joins last holds the chair, so that a swapped
// laptop takes over by giving the same name.
func (e Joined) step(s *State) error {
	p := e.Peer
	st := s.seats[s.ChairFor(p, e.Known)]
	if st == nil {
		if _, err := instrument.Find(p.Instrument); err != nil {
			return err
		}
		st = s.addChair(s.placeFor(p))
	}
	hash := p.TokenHash
	if len(hash) == 0 && e.Known.Node != "" && e.Known.Chair != st.id() {
		hash = e.Known.TokenHash // a known node at another chair
	}
	if len(hash) > 0 {
		s.put(hub.NodeChange{Is: hub.NodeRecord{Node: p.Node, Section: s.section.ID, Chair: st.id(), TokenHash: hash, Enrolled: s.at}})
	}
	s.out.Joined = hub.Joined{Chair: st.id(), Section: s.section.Name}
	if st.node != "" && st.node != p.Node {
		s.out.Joined.Replaced = st.node
	}
	st.device = device{node: p.Node, boot: p.Boot, tracks: p.Tracks, name: strings.TrimSpace(p.Chair), left: st.left}
	s.knownAt[p.Node] = st.id()
	s.adopt(st, p)
	s.arrive(st.id())
	return nil
}

// ChairFor finds the chair a peer means, 0 when it needs a new one. known is the
// node's record, zero for none.
func (s *State) ChairFor(p hub.Peer, known hub.NodeRecord) hub.ChairID {
	had := s.seats[known.Chair]
	if had == nil {
		had = s.seats[s.knownAt[p.Node]]
	}
	name := strings.TrimSpace(p.Chair)
	named := func(c *hub.Chair) bool { return name != "" && strings.EqualFold(c.Name, name) }
	// A label that the hub gave may be another player's own name: it finds a
	// chair that is free, or one that was taken by the same words.
	labelled := func(c *hub.Chair) bool {
		st := s.seats[c.ID]
		return name != "" && strings.EqualFold(c.Label, name) && (st.away() || st.node == p.Node || strings.EqualFold(st.name, name))
	}
	if had != nil && (name == "" || named(had.chair) || labelled(had.chair)) {
		return had.id()
	}
	for _, fits := range []func(*hub.Chair) bool{named, labelled} {
		if i := slices.IndexFunc(s.chairs, fits); i >= 0 {
			return s.chairs[i].ID
		}
	}
	// A player who changed the name keeps the chair, unless it is taken.
	if had != nil && had.chair.Instrument == p.Instrument && (had.away() || had.node == p.Node) {
		return had.id()
	}
	return 0
}

// placeFor makes a chair for a peer, with a label and a place: high brass in
// front, low brass behind, next to those who came before.
func (s *State) placeFor(p hub.Peer) hub.Chair {
	c := hub.Chair{
		ID: hub.ChairID(s.newID()), Name: strings.TrimSpace(p.Chair), Part: strings.TrimSpace(p.Part), Instrument: p.Instrument,
		Label: labelFor(*s.whole(), p.Instrument),
	}
	if in, err := instrument.Find(p.Instrument); err == nil && lowBrass[in.Family] {
		c.Row = 1
	}
	for _, o := range s.chairs {
		if o.Row == c.Row {
			c.Place = max(c.Place, o.Place+1)
		}
	}
	return c
}

// labelFor numbers the chairs of a family, in the section's language: "Horn 3".
func labelFor(s hub.Section, id instrument.ID) string {
	t, key := phrase.Leader.In(s.Language, s.Notes), "said.label.other"
	if in, err := instrument.Find(id); err == nil && t.Has("said.label."+in.Family) {
		key = "said.label." + in.Family
	}
	taken := map[string]bool{}
	for _, o := range s.Chairs {
		taken[strings.ToLower(o.Label)] = true
	}
	for n := 1; ; n++ {
		label := t.Say(key, n)
		if !taken[strings.ToLower(label)] {
			return label
		}
	}
}

// lowBrass are the families that sit behind.
var lowBrass = map[string]bool{"trombone": true, "euphonium": true, "tuba": true}

// adopt takes over what the player says about the chair.
func (s *State) adopt(st *seat, p hub.Peer) {
	before := st.chair
	c := before.Clone()
	if name := strings.TrimSpace(p.Chair); name != "" && !strings.EqualFold(name, c.Label) {
		c.Name = name
	}
	if part := strings.TrimSpace(p.Part); part != "" {
		c.Part = part
	}
	other := false
	if _, err := instrument.Find(p.Instrument); err == nil && p.Instrument != c.Instrument && p.Instrument != c.Corrected {
		c.Instrument, c.Corrected, other = p.Instrument, "", true
		c.Settings, c.Travel = nil, nil // other slides
		c.Since = s.ids.next
	}
	if p.Instrument == c.Instrument {
		c.Corrected = ""
	}
	if c.Name != st.chair.Name || c.Part != st.chair.Part || c.Corrected != before.Corrected || other {
		s.setChair(&c)
	}
	if other {
		s.restSlides(st, before)
		s.askOther(st)
		s.derive()
	}
}

// askOther has a chair of the running round play the note of the instrument that it
// has now, unless it was passed over: nothing of it was heard yet.
func (s *State) askOther(st *seat) {
	run, id := s.running(), st.id()
	st.chunks = nil
	if run == nil {
		return
	}
	if _, plays := run.Call.Tones[id]; !plays || run.Ended.IsZero() && slices.Contains(run.Passed, id) {
		return
	}
	run.Passed = slices.DeleteFunc(run.Passed, func(p hub.ChairID) bool { return p == id })
	delete(run.Call.Tones, id)
	delete(run.Call.Several, id)
	delete(run.Call.Fingerings, id)
	leave(run, id)
	run.Queue = append(run.Queue, id)
	s.giveTones(run)
	s.giveSeveral(run)
	s.order(run)
	s.asked = slices.DeleteFunc(slices.Clone(s.asked), func(a hub.ChairID) bool { return a == id })
}

// restSlides records that slides stand where they usually do since a chair has
// another instrument, as far as anybody said where they stood on the one before,
// or on an earlier one.
func (s *State) restSlides(st *seat, before *hub.Chair) {
	said := maps.Clone(before.Settings)
	if said == nil {
		said = instrument.Settings{}
	}
	for _, rec := range s.settings {
		if rec.Chair == st.id() {
			said[rec.Slide] = rec.MM
		}
	}
	for _, id := range slices.Sorted(maps.Keys(said)) {
		in := st.instrument()
		if _, has := in.Slide(id); !has {
			in, _ = instrument.Find(before.Instrument)
		}
		if in != nil {
			s.noteSetting(st.id(), id, in.MM(nil, id), hub.SourcePlayer)
		}
	}
}

// noteSetting records where a slide stands without having been moved.
func (s *State) noteSetting(chair hub.ChairID, id instrument.SlideID, mm float64, source string) {
	rec := hub.SettingRecord{Chair: chair, At: s.at, Slide: id, From: mm, MM: mm, Source: source}
	s.addSetting(rec)
}

// arrive lets a chair into the running round if it was not in it yet. Into a
// round called again for some, only who was not heard in this tune-up.
func (s *State) arrive(id hub.ChairID) {
	run, st := s.running(), s.seats[id]
	if run == nil || st.chair.Absent || run.Call.Only || run.Again && st.last() != nil {
		return
	}
	if _, in := run.Call.Tones[id]; !in {
		run.Queue = append(run.Queue, id)
		s.giveTones(run)
		s.giveSeveral(run)
		s.order(run)
	}
}

// step notes that a node's connection ended.
func (e Left) step(s *State) error {
	st := s.seats[e.Chair]
	if st == nil || st.node != e.Node {
		s.out.Seen = Nobody
		return nil
	}
	st.node, st.sound, st.chunks, st.left = "", proto.State{}, nil, s.at
	return nil
}

// reseat moves a chair; who sits there takes the place it leaves.
func (s *State) reseat(c *hub.Chair, row, place int) error {
	if err := checkSeat(row, place); err != nil {
		return err
	}
	for _, o := range slices.Clone(s.chairs) {
		if o.ID != c.ID && o.Row == row && o.Place == place {
			s.changeChair(o.ID, func(o *hub.Chair) { o.Row, o.Place = c.Row, c.Place })
		}
	}
	s.changeChair(c.ID, func(c *hub.Chair) { c.Row, c.Place = row, place })
	return nil
}

// remove takes a chair out of the section.
func (s *State) remove(id hub.ChairID) {
	s.chairs = slices.DeleteFunc(s.chairs, func(c *hub.Chair) bool { return c.ID == id })
	if run := s.running(); run != nil {
		leave(run, id)
		delete(run.Call.Tones, id)
		delete(run.Call.Several, id)
	}
	delete(s.seats, id)
}

// edit replaces the set-up; chairs are matched by ID.
func (s *State) edit(to hub.Section) error {
	if err := check(to); err != nil {
		return err
	}
	to = to.Clone()
	to.Name, to.ID = strings.TrimSpace(to.Name), s.section.ID
	keep := map[hub.ChairID]bool{}
	for i := range to.Chairs {
		c := &to.Chairs[i]
		if s.seats[c.ID] == nil {
			c.ID = hub.ChairID(s.newID())
		}
		if c.Label == "" {
			c.Label = labelFor(to, c.Instrument)
		}
		c.Since, c.Corrected = 0, ""
		if st := s.seats[c.ID]; st != nil {
			c.Since, c.Corrected = st.chair.Since, st.chair.Corrected
			if c.Instrument != st.chair.Instrument {
				c.Since, c.Corrected = s.ids.next, s.saidBy(st)
				if maps.Equal(c.Settings, st.chair.Settings) {
					c.Settings = nil // other slides
				}
				if maps.Equal(c.Travel, st.chair.Travel) {
					c.Travel = nil
				}
			}
		}
		keep[c.ID] = true
	}
	for _, c := range slices.Clone(s.chairs) {
		if !keep[c.ID] {
			s.remove(c.ID)
		}
	}
	s.replaceSection(to)
	for _, c := range s.chairs {
		if old := s.was.chair(c.ID); old != nil && old.Instrument != c.Instrument {
			s.restSlides(s.seats[c.ID], old)
			s.askOther(s.seats[c.ID])
		}
	}
	s.derive()
	for _, c := range s.chairs {
		var was instrument.Settings
		if old := s.was.chair(c.ID); old != nil {
			was = old.Settings
		}
		s.noteSettings(c, was)
		if old := s.was.chair(c.ID); old != nil && old.Absent {
			s.arrive(c.ID)
		}
	}
	return nil
}

// saidBy is the instrument that the laptop at a chair said last, empty where none was.
func (s *State) saidBy(st *seat) instrument.ID {
	if st.chair.Corrected != "" || st.away() && st.left.IsZero() {
		return st.chair.Corrected
	}
	return st.chair.Instrument
}

// replaceSection puts a set-up and its chairs in the place of the present ones.
func (s *State) replaceSection(to hub.Section) {
	chairs := to.Chairs
	to.Chairs = nil
	s.section, s.chairs = &to, nil
	for i := range chairs {
		c := &chairs[i]
		if st := s.seats[c.ID]; st != nil {
			st.chair = c
		} else {
			s.seats[c.ID] = &seat{chair: c}
		}
		s.chairs = append(s.chairs, c)
	}
}

// chair finds a chair of the facts, nil when there is none.
func (f *facts) chair(id hub.ChairID) *hub.Chair {
	if i := slices.IndexFunc(f.chairs, func(c *hub.Chair) bool { return c.ID == id }); i >= 0 {
		return f.chairs[i]
	}
	return nil
}

// noteSettings records where the leader says that slides stand. It corrects the
// set-up and moves nothing: what was heard before was heard with them there.
func (s *State) noteSettings(c *hub.Chair, was instrument.Settings) {
	for _, id := range slices.Sorted(maps.Keys(c.Settings)) {
		if old, known := was[id]; !known || old != c.Settings[id] {
			s.noteSetting(c.ID, id, c.Settings[id], hub.SourceLeader)
		}
	}
}

// step takes a player out with all that is known of them.
func (e Erased) step(s *State) error {
	if s.seats[e.Chair] != nil {
		s.remove(e.Chair)
	}
	s.readings = slices.DeleteFunc(s.readings, func(r *hub.Reading) bool { return r.Chair == e.Chair })
	s.moves = slices.DeleteFunc(s.moves, func(m *hub.MoveRecord) bool { return m.Chair == e.Chair })
	s.settings = slices.DeleteFunc(s.settings, func(r hub.SettingRecord) bool { return r.Chair == e.Chair })
	for i, r := range s.rounds {
		c := r.Clone()
		c.Strike(e.Chair)
		s.rounds[i] = &c
	}
	delete(s.past, e.Chair)
	s.undo = nil
	s.derive()
	return nil
}
