package main

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"bellrow/cmd/bellrow/plain"
	"bellrow/node/listen"
	"bellrow/proto/pitch"
)

// picture draws what read heard, as one still SVG: for each note the pitch in
// cents, the stretch that was read, centre and interval, the level below, and
// the reason where the note was refused. A nil picture draws nothing.
type picture struct {
	path    string
	replace bool
	body    strings.Builder
	y       float64 // where the next thing goes, px from the top
	notes   int
	sound   recording
}

// recording is the file that is being read.
type recording struct {
	name   string
	rate   float64
	levels []float64 // dBFS by hop
	energy float64
	inHop  int
	notes  []listen.Reading
}

// mostNotes bounds a picture: what nobody scrolls through is left out, and
// said to be.
const mostNotes = 200

// newPicture checks where the picture goes before anything is read.
func newPicture(path string, replace bool) (*picture, error) {
	if !strings.EqualFold(filepath.Ext(path), ".svg") {
		return nil, misused("for example: bellrow read --picture note.svg note.wav", "the picture %s needs a name that ends in .svg", path)
	}
	if err := free(path, replace); err != nil {
		return nil, err
	}
	return &picture{path: path, replace: replace, y: top}, nil
}

// free reports an error when path is taken and must not be replaced.
func free(path string, replace bool) error {
	switch info, err := os.Stat(path); {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return say("choose a folder that you may write to", "the picture cannot be written: %v", err)
	case info.IsDir():
		return say("give a file name", "%s is a folder", path)
	case !replace:
		return say("give another name, or --force to replace it", "%s is there already and is left as it is", path)
	}
	return nil
}

func (p *picture) begin(name string, rate float64) {
	if p != nil {
		p.sound = recording{name: name, rate: rate}
	}
}

// hear takes samples for the level, lost ones before them as silence.
func (p *picture) hear(samples []float64, lost int64) {
	if p == nil {
		return
	}
	s, hop := &p.sound, int(p.sound.rate*hopSeconds)
	for range lost / int64(hop) {
		s.levels = append(s.levels, float64(pitch.Silence))
	}
	for _, x := range samples {
		s.energy += x * x
		if s.inHop++; s.inHop == hop {
			s.levels = append(s.levels, float64(pitch.LevelOf(math.Sqrt(s.energy/float64(hop)))))
			s.energy, s.inHop = 0, 0
		}
	}
}

// hopSeconds is the step of level and track.
const hopSeconds = 0.01

func (p *picture) note(r listen.Reading) {
	if p != nil && p.notes+len(p.sound.notes) < mostNotes {
		p.sound.notes = append(p.sound.notes, r)
	}
}

// end draws the file; trouble is why it gave no reading, or ended early.
func (p *picture) end(a pitch.Reference, trouble error) {
	if p == nil {
		return
	}
	s := &p.sound
	p.text(left, p.y+18, "file", "start", filepath.Base(s.name))
	p.y += 32
	if trouble != nil {
		p.text(left, p.y+12, "print", "start", plain.Sentence(trouble))
		p.y += 24
	}
	for _, r := range s.notes {
		p.panel(a, r)
		p.notes++
	}
	if len(s.notes) == 0 && len(s.levels) > 0 {
		p.level(0, float64(len(s.levels))*hopSeconds, math.NaN())
		p.y += between
	}
	if p.notes == mostNotes {
		p.text(left, p.y+12, "print", "start", fmt.Sprintf("The first %d notes are drawn; read the rest from a shorter file.", mostNotes))
		p.y += 24
	}
}

// Sizes in px.
const (
	wide, left, right = 960.0, 88.0, 816.0
	top, between      = 18.0, 34.0
	pitchTall         = 180.0
	levelTall         = 56.0
	leastCents        = 20.0  // the smallest range of the pitch axis
	mostCents         = 240.0 // and the largest: beyond lie attack and release
	around            = 0.4   // seconds shown before and after a note
	lowestLevel       = -80.0 // dBFS at the foot of the level
)

// The look is that of the pages, proto/page/files/look.css.
const style = `
svg { background: #f7f1e3; }
text { font-family: system-ui, "Segoe UI", "Helvetica Neue", "Noto Sans", "DejaVu Sans", sans-serif; font-size: 13px; fill: #544c3d; }
.file { font-size: 15px; fill: #1b1813; font-weight: 600; }
.head { font-family: Besley, Clarendon, Rockwell, Georgia, "DejaVu Serif", serif; font-size: 23px; font-weight: 600; fill: #1b1813; }
.print { font-size: 14px; }
.mark { fill: #1b1813; }
.rule { stroke: #c4b798; stroke-width: 1; }
.zero { stroke: #84775a; stroke-width: 1; }
.stretch { fill: #ede4d0; }
.doubt { fill: #7a5a14; fill-opacity: 0.3; }
.centre { stroke: #7a5a14; stroke-width: 2.5; }
.guess { stroke: #544c3d; stroke-width: 1.5; stroke-dasharray: 2 4; }
.track { fill: none; stroke: #1b1813; stroke-width: 1.4; stroke-linejoin: round; }
.level { fill: #c4b798; stroke: none; }
.floor { stroke: #544c3d; stroke-width: 1; stroke-dasharray: 5 3; }
`

// panel draws one note.
func (p *picture) panel(a pitch.Reference, r listen.Reading) {
	s := &p.sound
	note, off := pitch.Note(0), pitch.Cents(0)
	middle := r.Hz
	if !middle.Valid() && len(r.Path) > 0 {
		middle = r.Path[len(r.Path)/2].Hz
	}
	if middle.Valid() {
		note, off = a.Nearest(middle)
	}
	head, detail := sentence(note, off, r, s.rate)
	p.text(left, p.y+20, "head", "start", head)
	p.text(left, p.y+42, "print", "start", detail)
	p.y += 58
	end := float64(r.End) / s.rate
	if n := len(r.Path); n > 0 {
		end = max(end, float64(r.Path[n-1].Sample)/s.rate)
	}
	from, to := max(0, float64(r.Onset)/s.rate-around), min(end+around, float64(len(s.levels))*hopSeconds)
	if middle.Valid() && to > from {
		p.track(a, note, off, r, from, to)
	}
	p.level(from, to, float64(r.Floor))
	p.y += between
}

// track draws the pitch over time, in cents from the note.
func (p *picture) track(a pitch.Reference, note pitch.Note, off pitch.Cents, r listen.Reading, from, to float64) {
	s, foot := &p.sound, p.y+pitchTall
	path := spoken(r.Path)
	cents := make([]float64, len(path))
	for i, q := range path {
		cents[i] = float64(a.Offset(note, q.Hz))
	}
	low, high := centsRange(cents, float64(off), float64(r.CI95))
	x := func(t float64) float64 { return left + (right-left)*(t-from)/(to-from) }
	y := func(c float64) float64 { return foot - pitchTall*(c-low)/(high-low) }
	start, stop := x(float64(r.Start)/s.rate), x(float64(r.End)/s.rate)
	if r.Hz.Valid() && stop > start {
		p.draw(`<rect class="stretch" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, start, p.y, stop-start, pitchTall)
	}
	step := niceStep((high - low) / 5)
	for c := math.Ceil(low/step) * step; c <= high; c += step {
		class, label := "rule", fmt.Sprintf("%.3g sharp", c)
		switch {
		case math.Abs(c) < step/2:
			class, label = "zero", note.Display()
		case c < 0:
			label = fmt.Sprintf("%.3g flat", -c)
		}
		p.draw(`<line class="%s" x1="%g" x2="%g" y1="%.1f" y2="%.1f"/>`, class, left, right, y(c), y(c))
		p.text(left-8, y(c)+4, "", "end", label)
	}
	if r.Hz.Valid() && stop > start {
		p.centre(float64(off), float64(r.CI95), r.Settled, start, stop, func(c float64) float64 { return y(max(low, min(high, c))) })
	}
	p.draw(`<path class="track" d="%s"/>`, trackPath(path, cents, s.rate, low, high, x, y))
	p.y = foot + 24
}

// spoken leaves out the attack before the first pitch, which the track fills
// with that pitch.
func spoken(path []listen.PathPoint) []listen.PathPoint {
	for len(path) > 1 && path[1].Hz == path[0].Hz {
		path = path[1:]
	}
	return path
}

// centre draws the centre with its interval, and says both beside it.
func (p *picture) centre(off, half float64, settled bool, start, stop float64, y func(float64) float64) {
	class, label := "centre", "read"
	if settled {
		high, low := y(off+half), y(off-half)
		p.draw(`<rect class="doubt" x="%.1f" y="%.1f" width="%.1f" height="%.1f"/>`, start, high-0.5, stop-start, low-high+1)
	} else {
		class, label = "guess", "not read"
	}
	p.draw(`<line class="%s" x1="%.1f" x2="%.1f" y1="%.1f" y2="%.1f"/>`, class, start, stop, y(off), y(off))
	for i, line := range []string{label, strings.TrimSpace(offText(off)), "± " + tenths(half)} {
		p.text(right+10, y(off)+17*float64(i)-12, "mark", "start", line)
	}
}

// centsRange is what the pitch axis shows: nine tenths of the track, the
// centre with its interval, and some air.
func centsRange(cents []float64, off, half float64) (low, high float64) {
	sorted := append([]float64(nil), cents...)
	low, high = off-min(half, mostCents/2), off+min(half, mostCents/2)
	if n := len(sorted); n > 0 {
		slices.Sort(sorted)
		low, high = min(low, sorted[n/20]), max(high, sorted[n-1-n/20])
	}
	if high-low > mostCents {
		low, high = max(low, off-mostCents/2), min(high, off+mostCents/2)
	}
	air := max(0.12*(high-low), (leastCents-(high-low))/2)
	return low - air, high + air
}

// trackPath draws the track where it lies in the range and has no gap.
func trackPath(path []listen.PathPoint, cents []float64, rate, low, high float64, x, y func(float64) float64) string {
	var b strings.Builder
	pen := "M"
	for i, q := range path {
		if cents[i] < low || cents[i] > high {
			pen = "M"
			continue
		}
		fmt.Fprintf(&b, "%s%.1f %.1f", pen, x(float64(q.Sample)/rate), y(cents[i]))
		pen = "L"
	}
	return b.String()
}

// level draws the level between two moments, with the time below it.
func (p *picture) level(from, to, floor float64) {
	levels := p.sound.levels
	foot := p.y + levelTall
	x := func(t float64) float64 { return left + (right-left)*(t-from)/(to-from) }
	y := func(db float64) float64 {
		return foot - levelTall*(max(lowestLevel, min(0, db))-lowestLevel)/-lowestLevel
	}
	first, last := int(from/hopSeconds), min(len(levels), int(math.Ceil(to/hopSeconds)))
	every := max(1, (last-first)/2000) // finer than the drawing can show
	var b strings.Builder
	fmt.Fprintf(&b, "M%.1f %.1f", left, foot)
	for i := first; i < last; i += every {
		loudest := lowestLevel
		for _, v := range levels[i:min(last, i+every)] {
			loudest = max(loudest, v)
		}
		fmt.Fprintf(&b, "L%.1f %.1f", max(left, min(right, x(float64(i)*hopSeconds))), y(loudest))
	}
	fmt.Fprintf(&b, "L%.1f %.1fZ", min(right, x(float64(last)*hopSeconds)), foot)
	p.draw(`<path class="level" d="%s"/>`, b.String())
	for _, db := range []float64{0, -40} {
		p.draw(`<line class="rule" x1="%g" x2="%g" y1="%.1f" y2="%.1f"/>`, left, right, y(db), y(db))
		p.text(left-8, y(db)+4, "", "end", strings.Replace(fmt.Sprintf("%g dBFS", db), "-", "−", 1))
	}
	if floor > lowestLevel { // not for NaN
		p.draw(`<line class="floor" x1="%g" x2="%g" y1="%.1f" y2="%.1f"/>`, left, right, y(floor), y(floor))
		p.text(right+10, y(floor)+4, "", "start", "the quiet room")
	}
	p.draw(`<line class="zero" x1="%g" x2="%g" y1="%.1f" y2="%.1f"/>`, left, right, foot, foot)
	step := niceStep((to - from) / 8)
	for t := math.Ceil(from/step) * step; t <= to; t += step {
		p.text(x(t), foot+17, "", "middle", fmt.Sprintf("%.4g s", math.Round(t*1000)/1000))
	}
	p.y = foot + 22
}

// sentence is what became of a note: a headline, and the figures behind it.
func sentence(note pitch.Note, off pitch.Cents, r listen.Reading, rate float64) (head, detail string) {
	from, to := float64(r.Start)/rate, float64(r.End)/rate
	if r.Settled {
		head = fmt.Sprintf("%s, %s, give or take %s", note.Display(), strings.TrimSpace(offText(float64(off))), tenths(float64(r.CI95)))
		detail = fmt.Sprintf("read from %.2f to %.2f s, where four fifths of the pitch lie within %s cents", from, to, tenths(float64(r.Spread)))
		if r.Vibrato != nil {
			detail += fmt.Sprintf("; with vibrato, %.1f times a second", r.Vibrato.RateHz)
		}
		return head, detail
	}
	why, ok := refusals[r.Reason]
	if !ok {
		why = [2]string{string(r.Reason), "play it again"}
	}
	name := "A sound"
	if r.Hz.Valid() {
		name = note.Display()
	}
	head = fmt.Sprintf("%s, not read: %s", name, why[0])
	detail = fmt.Sprintf("%.2f to %.2f s; %s", from, to, why[1])
	return head, detail
}

// refusals say why a note was not read, and what helps.
var refusals = map[listen.Reason][2]string{
	listen.ReasonMoving:   {"the pitch was still moving", "start it again and let it rest"},
	listen.ReasonVibrato:  {"it had vibrato", "play it straight"},
	listen.ReasonShort:    {"it was too short", "hold it for about two seconds"},
	listen.ReasonSoft:     {"it was too soft against the room", "play mezzo-forte, or nearer to the microphone"},
	listen.ReasonTwo:      {"two sounds at once", "play while the others are quiet"},
	listen.ReasonNoise:    {"that was no held note", "hold one note for two seconds"},
	listen.ReasonWide:     {"its centre is not known closely enough", "hold it longer, nearer to the microphone"},
	listen.ReasonClipping: {"the microphone was overloaded", "move it away from the bell, or turn it down"},
	listen.ReasonGap:      {"some of the sound was lost", "record it again with other programs closed"},
}

// tenths writes a size in cents: never as exact as 0.0.
func tenths(x float64) string { return fmt.Sprintf("%.1f", max(0.1, x)) }

// niceStep rounds up to 1, 2 or 5 times a power of ten.
func niceStep(x float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= x*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

func (p *picture) draw(format string, a ...any) { fmt.Fprintf(&p.body, format+"\n", a...) }

func (p *picture) text(x, y float64, class, anchor, text string) {
	p.draw(`<text x="%.1f" y="%.1f" class="%s" text-anchor="%s">%s</text>`, x, y, class, anchor, escaped(text))
}

// escaped makes any text fit for XML.
func escaped(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(text)) // a strings.Builder does not fail
	return b.String()
}

// save writes the picture, whole or not at all; none without a file that
// could be read.
func (p *picture) save() error {
	if p.body.Len() == 0 {
		return nil
	}
	if err := free(p.path, p.replace); err != nil {
		return err
	}
	const hint = "choose a folder with space that you may write to"
	f, err := os.CreateTemp(filepath.Dir(p.path), ".bellrow-picture-*")
	if err != nil {
		return say(hint, "the picture cannot be written: %v", err)
	}
	defer os.Remove(f.Name())
	_, err = fmt.Fprintf(f, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %.0f" width="%g" height="%.0f" role="img" aria-label="What bellrow read heard">
<style>%s</style>
<rect width="100%%" height="100%%" fill="#f7f1e3"/>
%s</svg>
`, wide, p.y+top, wide, p.y+top, style, p.body.String())
	err = errors.Join(err, f.Chmod(0o644), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), p.path)
	}
	if err != nil {
		return say(hint, "the picture cannot be written: %v", err)
	}
	return nil
}
