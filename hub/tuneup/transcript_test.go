package tuneup_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
	"bellrow/testdata/golden"
)

// TestTranscripts replays the rehearsals in testdata. Each is a list of what
// happens, one command a line, and of what everybody sees then, after four
// dashes; testdata/README.md lists the commands. With -update what is seen now
// is written down, to be read before it is committed.
func TestTranscripts(t *testing.T) {
	files, err := filepath.Glob("testdata/*.txt")
	if err != nil || len(files) < 20 {
		t.Fatalf("%d transcripts (%v), need 20 at least", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			got := rehearse(t, string(text))
			if got == string(text) {
				return
			}
			if *golden.Update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			t.Errorf("%s goes otherwise by now (-update writes it down): %s", file, differs(got, string(text)))
		})
	}
}

// rehearse replays a transcript and returns it with what is seen now.
func rehearse(t *testing.T, text string) string {
	h := &rehearsal{rig: newRig(t), nodes: map[string]*laptop{}, views: map[hub.ChairID]string{}, tongues: tongues{t: t}}
	var out strings.Builder
	lines := strings.Split(strings.TrimRight(text, "\n"), "\n")
	for i := 0; i < len(lines); i++ {
		line := lines[i]
		out.WriteString(line + "\n")
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		h.said.Reset()
		h.do(strings.Fields(line))
		for i+1 < len(lines) && isSeen(lines[i+1]) { // before
			i++
		}
		h.see()
		out.WriteString("----\n" + h.said.String())
	}
	h.replays(len(h.steps), h.state.Record())
	return out.String()
}

// isSeen tells what is seen from the next command: it is the dashes, or indented.
func isSeen(line string) bool { return line == "----" || strings.HasPrefix(line, "  ") }

// rehearsal is a section whose players do as a transcript says.
type rehearsal struct {
	*rig
	nodes map[string]*laptop
	said  strings.Builder
	// What was seen last, so that only news is written.
	row   string
	views map[hub.ChairID]string
	swaps int
	// In every language all of it is said in that language.
	tongues tongues
}

// laptop is a player's, by the player's name.
type laptop struct {
	node  string
	chair hub.ChairID
	seq   uint64
	in    instrument.ID
	here  bool
}

func (h *rehearsal) say(format string, args ...any) { fmt.Fprintf(&h.said, "  "+format+"\n", args...) }

// event takes an event and writes what it stored, or why it was refused.
func (h *rehearsal) event(e tuneup.Event) tuneup.Outcome {
	out, err := h.step(e)
	if err != nil {
		h.say("refused: %v", err)
	}
	var kinds []string
	for _, c := range out.Changes {
		kind := strings.ToLower(strings.NewReplacer("Change", "", "Added", "").Replace(reflect.TypeOf(c).Name()))
		switch c := c.(type) {
		case hub.ReadingChange:
			if c.Is.Why != "" {
				kind += " (" + string(c.Is.Why) + ")"
			}
		case hub.ValueChange:
			if c.Key == hub.ValueNextID {
				continue
			}
			kind = c.Key[:strings.IndexByte(c.Key, '/')]
		}
		kinds = append(kinds, kind)
	}
	if len(kinds) > 0 {
		h.say("stored: %s", strings.Join(kinds, ", "))
	}
	return out
}

// see writes what has changed for the leader and for the players.
func (h *rehearsal) see() {
	h.tongues.hear(h.state, h.now)
	st := h.state.Standing(h.now)
	row := show.NewRow(st, 0, nil)
	say := fmt.Sprintf("%s (%s)", row.Say, row.SayKind)
	if row.Round != nil && row.Round.Sentence != "" && row.Round.Sentence != row.Say {
		say += " | " + row.Round.Sentence
	}
	if row.Round != nil {
		for _, c := range row.Round.Choices {
			say += fmt.Sprintf("\n    %s (%s): %s", c.Label, c.Do, c.Words)
		}
	}
	if say != h.row {
		h.row = say
		h.say("leader: %s", say)
	}
	for i := range st.Chairs {
		c := &st.Chairs[i]
		v := show.NewView(st, c)
		text := fmt.Sprintf("%s: %s: %s", c.Display(), v.Phase, v.Say)
		if v.Answer != nil && v.Answer.Headline != v.Say {
			text += " [" + v.Answer.Headline + "]"
		}
		if v.Listen {
			text += " (listens)"
		}
		if c.Away {
			text = c.Display() + ": away"
		}
		if c.Unheard != "" && slices.Contains([]string{"wait", "turn"}, row.Chairs[i].State) {
			text += " {" + row.Chairs[i].Words + "}"
		}
		if c.Holds != nil {
			text += fmt.Sprintf(" %+.0f %s", math.Round(float64(c.Holds.Cents))+0, c.Holds.Verdict)
		}
		if text != h.views[c.ID] {
			h.views[c.ID] = text
			h.say("%s", text)
		}
	}
}

// do carries out one line of a transcript.
func (h *rehearsal) do(words []string) {
	h.t.Helper()
	verb, args := words[0], words[1:]
	switch verb {
	case "join":
		h.join(args[0], instrument.ID(args[1]), slices.Contains(args, "tracks"), "")
	case "swap": // another laptop takes the chair
		h.swaps++
		h.join(args[0], h.nodes[args[0]].in, false, fmt.Sprint("-spare", h.swaps))
	case "leave":
		l := h.laptop(args[0])
		l.here = false
		h.event(tuneup.Left{Chair: l.chair, Node: l.node})
	case "back":
		h.join(args[0], h.nodes[args[0]].in, false, strings.TrimPrefix(h.nodes[args[0]].node, args[0]))
	case "play":
		h.play(args[0], args[1:])
	case "tracks":
		h.tracks(strings.Split(args[0], ","), int(h.number(args[1])))
	case "bent":
		h.bent(args[0], h.number(args[1]), h.number(args[2]), h.number(args[3]))
	case "sound":
		s := proto.State{State: args[1], Level: -20}
		if len(args) > 2 {
			s.Played = h.number(args[2])
		}
		h.event(tuneup.Sound{Chair: h.laptop(args[0]).chair, State: s})
	case "slide":
		h.slide(args)
	case "wait":
		h.wait(args[0])
	case "fit":
		h.fitted(args)
	case "restart":
		h.restart()
	case "erase":
		h.event(tuneup.Erased{Chair: h.laptop(args[0]).chair})
	default:
		h.event(tuneup.Command(h.command(verb, args)))
	}
}

func (h *rehearsal) laptop(name string) *laptop {
	h.t.Helper()
	if h.nodes[name] == nil {
		h.t.Fatalf("nobody is called %s", name)
	}
	return h.nodes[name]
}

func (h *rehearsal) number(s string) float64 {
	h.t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		h.t.Fatal(err)
	}
	return x
}

func (h *rehearsal) join(name string, in instrument.ID, tracks bool, spare string) {
	l := h.nodes[name]
	if l == nil {
		l = &laptop{in: in}
		h.nodes[name] = l
	}
	if l.node != name+spare {
		l.node, l.seq = name+spare, 0
	}
	out := h.event(tuneup.Joined{Peer: hub.Peer{Node: l.node, Boot: "b", Chair: name, Instrument: in, Tracks: tracks}})
	l.chair, l.in, l.here = out.Joined.Chair, in, true
	if out.Joined.Replaced != "" {
		h.say("takes over from %s", out.Joined.Replaced)
	}
}

// play delivers a note, three seconds after what went before: so many cents
// from the target, or a note by name, and how it was.
func (h *rehearsal) play(name string, args []string) {
	h.t.Helper()
	h.now = h.now.Add(3 * time.Second)
	l := h.laptop(name)
	l.seq++
	w := proto.Reading{Sequence: l.seq, CI95: 0.5, Spread: 1, Level: -20, Floor: -60, Settled: true, Played: 600, Start: 100, End: 101, Onset: 99.5}
	st := h.state.Standing(h.now)
	for i := range st.Chairs {
		if c := &st.Chairs[i]; c.ID == l.chair {
			v := show.NewView(st, c)
			w.Round, w.Hz = v.Round, v.Target
		}
	}
	if n, err := pitch.ParseNote(args[0]); err == nil {
		w.Hz = pitch.Reference{}.Frequency(n)
	} else {
		w.Hz = w.Hz.Shift(pitch.Cents(h.number(args[0])))
	}
	for _, how := range args[1:] {
		key, value, _ := strings.Cut(how, "=")
		switch key {
		case "unsettled":
			w.Settled, w.Reason = false, value
		case "sways": // a vibrato, peak to peak
			w.Vibrato = &proto.Vibrato{RateHz: 5.5, Extent: pitch.Cents(h.number(value))}
		case "played":
			w.Played = h.number(value)
		case "mute":
			w.Mute = value
		case "ci":
			w.CI95 = pitch.Cents(h.number(value))
		case "early": // begun so many seconds before
			w.Onset = w.End - h.number(value)
		case "level":
			w.Level = pitch.Level(h.number(value))
		case "round":
			w.Round = int64(h.number(value))
		case "two":
			w.Second = &proto.Second{Offset: 7, LevelDB: -3}
		default:
			h.t.Fatalf("a note cannot be %q", how)
		}
	}
	h.event(tuneup.Reading{Chair: l.chair, Node: l.node, Boot: "b", Wire: w})
}

// tracks sends so many stretches of partial tracks, four a second, of a clock that
// was never compared with the hub's.
func (h *rehearsal) tracks(names []string, n int) {
	for i := range n {
		h.wait("250ms")
		for _, name := range names {
			l := h.laptop(name)
			h.event(tuneup.Track{Chair: l.chair, Chunk: track.Chunk{Reference: 116.5, First: int64(i) * 12000, Rate: 48000, Floor: -70, Level: -20}})
		}
	}
}

// bent delivers a note that was bent so many cents down and up and ended so many
// from where it began.
func (h *rehearsal) bent(name string, down, up, back float64) {
	const step = 0.05
	l := h.laptop(name)
	l.seq++
	w := proto.Reading{Sequence: l.seq, Hz: 233, CI95: 6, Level: -20, Floor: -60, Reason: "moving", Played: 600, Start: 100, End: 107, Onset: 100,
		Path: &proto.Path{Hz: 233, Step: step}}
	st := h.state.Standing(h.now)
	for i := range st.Chairs {
		if c := &st.Chairs[i]; c.ID == l.chair {
			w.Round = show.NewView(st, c).Round
		}
	}
	for _, part := range []struct{ seconds, cents float64 }{{1.5, 0}, {1.5, -down}, {1, 0}, {1.5, up}, {1.5, back}} {
		for range int(part.seconds / step) {
			w.Path.Tenths = append(w.Path.Tenths, int(10*part.cents))
		}
	}
	h.event(tuneup.Reading{Chair: l.chair, Node: l.node, Boot: "b", Wire: w})
}

// slide sets a player's slide as told, or at a place in mm.
func (h *rehearsal) slide(args []string) {
	l := h.laptop(args[0])
	set := proto.Setting{Slide: instrument.Main}
	if args[1] != "told" {
		set.MM = h.number(args[1])
		h.event(tuneup.Setting{Chair: l.chair, Set: set})
		return
	}
	st := h.state.Standing(h.now)
	for i := range st.Chairs {
		if c := &st.Chairs[i]; c.ID == l.chair && c.Open != nil {
			for _, m := range c.Open.Answer.Steps {
				h.event(tuneup.Setting{Chair: l.chair, Set: proto.Setting{Slide: m.Slide, MM: m.ToMM}})
			}
		}
	}
}

// wait lets time go by; the state is told of it when it asked to be.
func (h *rehearsal) wait(length string) {
	d, err := time.ParseDuration(length)
	if err != nil {
		h.t.Fatal(err)
	}
	for end := h.now.Add(d); ; {
		if h.wake.IsZero() || h.wake.After(end) {
			h.now = end
			return
		}
		if h.wake.After(h.now) {
			h.now = h.wake
		}
		h.event(tuneup.Tick{})
		if h.fit != nil {
			h.say("(to be told apart: %d chairs)", len(h.fit.Chairs))
		}
	}
}

// fitted answers what was to be told apart: name=verdict or name=cents.
func (h *rehearsal) fitted(args []string) {
	if h.fit == nil {
		h.t.Fatal("nothing is to be told apart")
	}
	res := attribute.Result{}
	for _, c := range h.fit.Chairs {
		cr := attribute.ChairResult{ID: c.ID, Verdict: attribute.NoTracks}
		for _, arg := range args {
			name, what, _ := strings.Cut(arg, "=")
			if name == "over" { // of those who are not heard
				cr.Over = h.number(what)
				continue
			}
			if name == "pair" {
				res.Pairs = []attribute.Pair{{A: 1, B: 2}}
				continue
			}
			if h.laptop(name).chair != hub.ChairID(c.ID) {
				continue
			}
			if cents, err := strconv.ParseFloat(what, 64); err == nil {
				cr = attribute.ChairResult{ID: c.ID, Over: cr.Over, Verdict: attribute.Sounding, Hz: c.Expected.Shift(pitch.Cents(cents)), CI95: 0.5}
			} else {
				cr.Verdict = attribute.Verdict(what)
			}
		}
		res.Chairs = append(res.Chairs, cr)
	}
	fit := h.fit
	h.fit = nil
	h.event(tuneup.Fitted{Round: fit.Round, Result: res})
}

// restart begins the hub anew on what is stored; the laptops come back.
func (h *rehearsal) restart() {
	h.state, h.record = h.load(len(h.steps)), ""
	st := h.state.Standing(h.now)
	for _, c := range st.Chairs {
		for name, l := range h.nodes {
			if l.here && l.chair == c.ID {
				h.join(name, l.in, false, strings.TrimPrefix(l.node, name))
			}
		}
	}
}

// command makes what the leader says.
func (h *rehearsal) command(verb string, args []string) hub.Command {
	h.t.Helper()
	c := hub.Command{Do: verb}
	arg := func(i int) string {
		if i < len(args) {
			return args[i]
		}
		return ""
	}
	switch verb {
	case hub.DoCall:
		c.Call = &hub.Call{Together: slices.Contains(args, "together"), Thorough: slices.Contains(args, "thorough")}
		name := strings.TrimSuffix(strings.TrimSuffix(strings.Join(args, " "), " together"), " thorough")
		if n, err := pitch.ParseNote(name); err == nil {
			c.Call.Note = n
		} else {
			c.Call.Kind, c.Call.Chord = hub.CallChord, name
		}
		return c
	case hub.DoChoose:
		c.Name = strings.Join(args, " ")
		return c
	case hub.DoEdit:
		s := h.state.Section()
		for _, a := range args {
			switch key, value, _ := strings.Cut(a, "="); key {
			case "fixed":
				s.FixedPitch = value == "yes"
			case "good":
				s.Good = pitch.Cents(h.number(value))
			case "hide":
				s.HideNames = value == "yes"
			case "a4":
				s.Reference.A4 = pitch.Hertz(h.number(value))
			case "notes":
				s.Notes, _ = pitch.ParseStyle(value)
			case "order":
				s.Order = hub.Order(value)
			case "absent", "present":
				for i := range s.Chairs {
					if s.Chairs[i].Name == value {
						s.Chairs[i].Absent = key == "absent"
					}
				}
			case "instrument": // edit instrument=Bo:tuba_bbb
				name, in, _ := strings.Cut(value, ":")
				for i := range s.Chairs {
					if s.Chairs[i].Name == name {
						s.Chairs[i].Instrument = instrument.ID(in)
					}
				}
			case "without":
				s.Chairs = slices.DeleteFunc(s.Chairs, func(c hub.Chair) bool { return c.Name == value })
			}
		}
		c.Section = &s
		return c
	}
	if name := arg(0); name != "" {
		c.Chair = h.laptop(name).chair
	}
	switch verb {
	case hub.DoSeat:
		c.SeatRow, c.Place = int(h.number(arg(1))), int(h.number(arg(2)))
	case hub.DoSetting:
		c.Slide, c.MM = instrument.Main, h.number(arg(1))
	case hub.DoTone:
		n, err := pitch.ParseNote(arg(1))
		if err != nil {
			h.t.Fatal(err)
		}
		c.Note = n
	case hub.DoFingering:
		c.Name = arg(1)
	}
	return c
}
