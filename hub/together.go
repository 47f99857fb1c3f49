package hub

import (
	"slices"
	"strings"
	"time"

	"bellrow/hub/attribute"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/track"
)

// Attributor answers whose sound is whose; *attribute.Fitter is one. It is
// called by one goroutine at a time.
type Attributor interface {
	Fit(attribute.Input) attribute.Result
}

// Times of a together round.
const (
	// gatherFor is how long after the first reading the others may come:
	// players start within a second of one another and a reading takes two.
	gatherFor = 5 * time.Second
	// linger lets the last tracks arrive after the last reading: nodes send
	// them a few times a second.
	linger = 400 * time.Millisecond
)

// Codes of Reading.Why in together rounds.
const (
	whyOverheard = "overheard" // the microphone heard only others
	whyTogether  = "together"  // cannot be told from another chair
)

// window is the time in which a together round's readings gather.
type window struct {
	round    RoundID
	deadline time.Time
	fitting  bool
}

// maxChunks bounds what is kept of a chair's partial tracks: more than any
// together round uses.
const maxChunks = 64

// clock ties a node's clock and samples to the hub's.
type clock struct {
	first, last proto.Ping
	known       bool
}

// zero is the hub time of sample 0 at a sample rate, with its half width, in seconds.
func (c clock) zero(rate float64) (at, err float64) {
	if !c.known || rate <= 0 {
		return 0, 0
	}
	return c.last.Sent + c.last.Offset - float64(c.last.Sample)/rate, c.last.Error
}

// ppmAfter is how far apart two pings must lie to tell how fast a sound
// card's clock runs, in seconds: 5 ms of doubt are 80 ppm then.
const ppmAfter = 60

// ppm is how much faster than nominal the samples run, with its half width; 0, 0 while unknown.
func (c clock) ppm(rate float64) (ppm, err float64) {
	dt := c.last.Sent - c.first.Sent
	if !c.known || dt < ppmAfter || rate <= 0 {
		return 0, 0
	}
	samples := float64(c.last.Sample-c.first.Sample) / rate
	return (samples/dt - 1) * 1e6, (c.first.Error + c.last.Error) / dt * 1e6
}

// Clock notes a node's own estimate of its clock against the hub's.
func (h *Hub) Clock(chair ChairID, p proto.Ping) {
	h.mu.Lock()
	defer h.mu.Unlock()
	s := h.seats[chair]
	if s == nil || p.Error <= 0 {
		return
	}
	if !s.clock.known || p.Sample < s.clock.last.Sample {
		s.clock.first = p
	}
	s.clock.last, s.clock.known = p, true
}

// Track keeps a stretch of a chair's partial tracks for attribution.
func (h *Hub) Track(chair ChairID, c track.Chunk) {
	h.mu.Lock()
	defer h.mu.Unlock()
	s, r := h.seats[chair], h.running()
	if s == nil || r == nil || !r.allAtOnce() {
		return
	}
	s.chunks = append(s.chunks, c)
	if n := len(s.chunks) - maxChunks; n > 0 {
		s.chunks = slices.Delete(s.chunks, 0, n)
	}
}

// gather keeps a reading of a together round until the others have come.
func (h *Hub) gather(r *Reading) (followUp func()) {
	r.Why = whyGathering
	return func() { h.openWindow() }
}

// openWindow starts the window, or shortens it when all have been heard.
func (h *Hub) openWindow() {
	run := h.running()
	if h.window == nil {
		h.window = &window{round: run.ID, deadline: h.now().Add(gatherFor)}
	}
	// A note that did not settle among the others is no reason to hurry: the
	// tracks tell more the longer everybody plays.
	waiting := func(id ChairID) bool {
		s := h.seats[id]
		return h.here(id) && (s.inRound == nil || !s.inRound.Wire.Settled && len(s.chunks) > 0)
	}
	if !slices.ContainsFunc(run.Queue, waiting) {
		if soon := h.now().Add(linger); soon.Before(h.window.deadline) {
			h.window.deadline = soon
		}
	}
}

// resumeWindow opens the window anew after a restart.
func (h *Hub) resumeWindow() {
	run := h.running()
	if run == nil || !run.allAtOnce() {
		return
	}
	if slices.ContainsFunc(h.readings, func(r *Reading) bool { return r.Round == run.ID && r.Why == whyGathering }) {
		h.openWindow()
	}
}

// deadline is when Run has to look again; zero when it need not.
func (h *Hub) deadline() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	var at time.Time
	sooner := func(t time.Time) {
		if at.IsZero() || t.Before(at) {
			at = t
		}
	}
	if h.window != nil && !h.window.fitting {
		sooner(h.window.deadline)
	}
	if at := h.ringing(); !at.IsZero() {
		sooner(at)
	}
	if run := h.running(); run != nil && run.Ended.IsZero() {
		for _, id := range run.Queue {
			if !h.here(id) && h.expected(id) {
				sooner(h.seats[id].left.Add(awayGrace))
			}
		}
	}
	return at
}

// expire draws the consequences of time alone: nobody waits for a laptop
// longer than awayGrace.
func (h *Hub) expire() {
	h.mu.Lock()
	defer h.mu.Unlock()
	run := h.running()
	if run == nil {
		return
	}
	h.hush()
	was := run.Ended
	h.progress()
	if run.Ended != was {
		h.touch()
	}
}

// closeWindow solves a window whose time has come. The fit runs without the
// lock; its result is dropped if the round has changed meanwhile.
func (h *Hub) closeWindow() {
	h.mu.Lock()
	w, run := h.window, h.running()
	if w == nil || w.fitting || h.now().Before(w.deadline) {
		h.mu.Unlock()
		return
	}
	if run == nil || run.ID != w.round || !run.allAtOnce() {
		h.window = nil
		h.mu.Unlock()
		return
	}
	w.fitting = true
	in, listening := h.attributionInput(run), run.listening()
	ranges := h.ranges(in)
	h.mu.Unlock()

	if listening {
		expectHeard(&in, ranges)
	}
	res := h.fit(in)

	h.mu.Lock()
	defer h.mu.Unlock()
	if h.window != w {
		return
	}
	h.window = nil
	if run := h.running(); run != nil && run.ID == w.round && run.allAtOnce() {
		h.attributed(run, res)
		h.touch()
	}
}

// Several windows are tried, windowStep apart: players do not begin together,
// and a note may be steady for one window only.
const (
	windowTries  = 3
	windowStep   = 0.5 // seconds
	windowLength = 1.5
	minWindow    = 0.8 // of the later ones; shorter ones tell less apart
	settleIn     = 0.3 // the start of a note, left out
)

// fit solves several windows and takes the one in which most chairs could be
// told apart, with what the others have on the rest.
func (h *Hub) fit(in attribute.Input) attribute.Result {
	var best attribute.Result
	var all []attribute.Result
	most, last := -1, in.End
	for try := range windowTries {
		in.End = min(in.Start+windowLength, last)
		if try > 0 && in.End-in.Start < minWindow {
			break
		}
		res := h.attributor.Fit(in)
		h.logFit(in, res)
		all = append(all, res)
		if n := sounding(res); n > most {
			best, most = res, n
		}
		if most == len(in.Chairs) || res.Fallback && most == 0 {
			break // nothing left to find, or no tracks to find it in
		}
		in.Start += windowStep
	}
	best.Chairs = slices.Clone(best.Chairs)
	for _, res := range all {
		for i, cr := range res.Chairs {
			if b := best.Chairs[i]; cr.Verdict == attribute.Sounding && b.Verdict != attribute.Sounding {
				best.Chairs[i] = cr
			}
		}
	}
	return best
}

func sounding(res attribute.Result) int {
	n := 0
	for _, c := range res.Chairs {
		if c.Verdict == attribute.Sounding {
			n++
		}
	}
	return n
}

// logFit tells developers what a window held and what became of it.
func (h *Hub) logFit(in attribute.Input, res attribute.Result) {
	h.log.Debug("hub: together", "start_s", in.Start, "end_s", in.End, "pairs", len(res.Pairs), "fallback", res.Fallback)
	for i, c := range in.Chairs {
		if i < len(res.Chairs) {
			h.log.Debug("hub: together", "chair", c.ID, "chunks", len(c.Chunks), "zero_s", c.Zero, "clock_error_s", c.ClockError,
				"own_hz", c.Own.Hz, "verdict", res.Chairs[i].Verdict, "hz", res.Chairs[i].Hz, "ci95_cents", res.Chairs[i].CI95)
		}
	}
}

// attributionInput describes the window for hub/attribute.
func (h *Hub) attributionInput(run *Round) attribute.Input {
	var in attribute.Input
	var starts, ends []float64
	for _, id := range run.Queue {
		s := h.seats[id]
		if !h.here(id) {
			continue
		}
		ch := attribute.Chair{ID: int64(id), Expected: h.target(run, id), Able: s.traceable(), Chunks: slices.Clone(s.chunks), Baseline: s.baseline()}
		if n := len(s.chunks); n > 0 {
			rate := s.chunks[n-1].Rate
			ch.Zero, ch.ClockError = s.clock.zero(rate)
			ch.PPM, ch.PPMError = s.clock.ppm(rate)
			ch.Floor = s.chunks[n-1].Floor
		}
		if !s.clock.known {
			ch.Chunks = nil // without a clock the tracks cannot be laid side by side
		}
		if r := s.inRound; r != nil && r.Why == whyGathering {
			w := r.Wire
			if w.Settled {
				ch.Own = attribute.OneMic{Hz: w.Hz, CI95: w.CI95, Spread: w.Spread, Drift: w.Drift, Level: w.Level}
			}
		}
		if from, to, ok := s.stretch(ch.Zero); ok {
			starts, ends = append(starts, from), append(ends, to)
		}
		in.Chairs = append(in.Chairs, ch)
	}
	in.Start, in.End = commonStretch(starts, ends)
	return in
}

// stretch is when a chair's tracks, or without them its reading, sounded, in
// seconds of the hub's clock.
func (s *seat) stretch(zero float64) (start, end float64, ok bool) {
	if n := len(s.chunks); n > 0 {
		first, last := s.chunks[0], s.chunks[n-1]
		return zero + float64(first.First)/first.Rate + settleIn, zero + float64(last.First)/last.Rate, true
	}
	if r := s.inRound; r != nil && r.Why == whyGathering {
		return zero + r.Wire.Start, zero + r.Wire.End, true
	}
	return 0, 0, false
}

// commonStretch is where four fifths of the chairs sound at once, as far as
// their stretches tell: a few who come late or leave early do not shorten it.
func commonStretch(starts, ends []float64) (start, end float64) {
	if len(starts) == 0 {
		return 0, 0
	}
	slices.Sort(starts)
	slices.Sort(ends)
	start, end = starts[(len(starts)-1)*4/5], ends[len(ends)/5]
	if short := minWindow - (end - start); short > 0 {
		start, end = start-short/2, end+short/2
	}
	return start, end
}

// attributed answers everybody whose sound was told apart; the others are
// heard in turn.
func (h *Hub) attributed(run *Round, res attribute.Result) {
	for _, cr := range res.Chairs {
		s := h.seats[ChairID(cr.ID)]
		if s == nil || s.inRound == nil || s.inRound.Why != whyGathering || !slices.Contains(run.Queue, s.id) {
			continue
		}
		h.attributedTo(run, s, s.inRound, cr)
	}
	run.Note = h.whyInTurn(res)
	for _, s := range h.seats {
		s.chunks = nil
	}
	run.InTurn = true
	for _, id := range run.Queue { // what the others drowned is no try of the player's
		if s := h.seats[id]; s != nil && s.inRound != nil {
			run.askAnew(id, s.inRound.ID)
		}
	}
	h.rebuild()
	h.saveRound()
	h.progress()
	h.room()
}

// attributedTo takes one chair's result.
func (h *Hub) attributedTo(run *Round, s *seat, r *Reading, cr attribute.ChairResult) {
	switch cr.Verdict {
	case attribute.Sounding:
		r.Heard = &Heard{Hz: cr.Hz, CI95: cr.CI95, Spread: cr.Spread, Drift: cr.Drift, Level: cr.Level, Words: "from several microphones"}
	case attribute.NoTracks:
		if r.Wire.Second != nil { // one microphone and two sounds: whose is which?
			r.Why = WhyUnclear
			h.refuse(r, unclearAmongOthers())
			return
		}
		run.Alone = append(run.Alone, s.id) // the node's own reading stands for itself
	case attribute.Overheard:
		r.Why = whyOverheard
	case attribute.Together:
		r.Why = whyTogether
		h.refuse(r, slide.Advice{Kind: slide.Again, Code: whyTogether, Headline: "You could not be told from a neighbour.",
			Next: "You will be heard in turn."})
		return
	default: // silent or unclear: heard in turn
		r.Why = Reason(cr.Verdict)
		h.refuse(r, unclearAmongOthers())
		return
	}
	s.inRound = nil
	r.Cents = r.offset()
	followUp := h.judge(s, r)
	h.saveReading(r)
	s.take(r, run)
	followUp()
}

func unclearAmongOthers() slide.Advice {
	return slide.Advice{Kind: slide.Again, Code: string(attribute.Unclear), Headline: "You could not be heard clearly among the others.",
		Next: "You will be heard in turn."}
}

// refuse notes that a gathered reading does not count.
func (h *Hub) refuse(r *Reading, a slide.Advice) {
	r.Answer = answerOf(r, a)
	h.saveReading(r)
}

// whyInTurn tells the leader why the round goes on in turns.
func (h *Hub) whyInTurn(res attribute.Result) string {
	run := h.running()
	left := 0
	for _, id := range run.Queue {
		if h.here(id) {
			left++
		}
	}
	switch {
	case left == 0:
		return ""
	case len(res.Pairs) > 0:
		return pairWords(len(res.Pairs))
	case left == 1:
		return "One chair was not heard clearly: hear it by itself."
	}
	return countWords(left) + " chairs were not heard clearly: hear them in turn."
}

// aloneWords says whose laptop was believed by itself in a together round,
// empty when all were told apart by many microphones.
func (h *Hub) aloneWords(run *Round) string {
	var names []string
	for _, id := range run.Alone {
		if h.chair(id) != nil {
			names = append(names, h.called(id))
		}
	}
	switch n := len(names); {
	case n == 0:
		return ""
	case n == len(run.Call.Tones):
		return "Each laptop was believed by itself: no partial tracks came with the sound."
	case n > maxNamed:
		return countWords(n) + " laptops were believed by themselves: their tracks did not tell."
	case n == 1:
		return "The laptop of " + names[0] + " was believed by itself: its tracks did not tell."
	default:
		return "The laptops of " + strings.Join(names[:n-1], ", ") + " and " + names[n-1] + " were believed by themselves: their tracks did not tell."
	}
}

// maxNamed is as many names as a sentence bears.
const maxNamed = 3

func pairWords(n int) string {
	if n == 1 {
		return "Two chairs cannot be told apart: hear them in turn."
	}
	return "Some chairs cannot be told apart: hear them in turn."
}
