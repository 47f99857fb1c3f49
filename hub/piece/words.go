package piece

import (
	"math"
	"strconv"
	"strings"

	"golang.org/x/text/number"

	"bellrow/hub/intonation"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// sonorityName is the likeliest chord, or the note of a unison, or the notes.
func sonorityName(x score.Sonority, t phrase.Tongue) string {
	switch {
	case oneClass(x):
		return t.Say("piece.unison", t.Notes.Naming.Both(x.Tones[0].Sounding.Name))
	case len(x.Chords) > 0:
		return x.Chords[0].SayIn(t)
	}
	var names []string
	for _, n := range x.Tones {
		names = append(names, t.Notes.Both(n.Sounding))
	}
	return strings.Join(names, " ")
}

// when says where in its bar a sonority begins and how long it is held.
func when(x score.Sonority, t phrase.Tongue) string {
	if x.Offset > 0 {
		return t.Say("piece.when.after", lengthWords(x.Offset, t), lengthWords(x.Length, t))
	}
	return t.Say("piece.when", lengthWords(x.Length, t))
}

// lengthWords names the usual note values, and counts quarters otherwise.
func lengthWords(x score.Ticks, t phrase.Tongue) string {
	q := math.Round(x.Quarters()*100) / 100
	if key := "piece.length." + strconv.FormatFloat(q, 'g', -1, 64); t.Has(key) {
		return t.Say(key)
	}
	return t.Say("piece.length.other", number.Decimal(q, number.NoSeparator()))
}

// move says what to do with the main slide, in whole millimetres, as it is set.
func (p Player) move(pl intonation.PlayerPlan, note string, t phrase.Tongue) string {
	slide := p.main(t)
	from, to := mm(pl.FromMM), mm(pl.MainMM)
	switch {
	case !p.Measured:
		return beside(slide, to-mm(pl.OneNoteMM), note, t)
	case to == from:
		return t.Say("piece.move.leave", slide, from)
	case to > from:
		return t.Say("piece.move.pull", slide, to-from, from, to)
	}
	return t.Say("piece.move.push", slide, from-to, from, to)
}

// beside says where a slide belongs against where it tunes on one note.
func beside(slide string, out int, note string, t phrase.Tongue) string {
	switch {
	case out > 0:
		return t.Say("piece.beside.out", slide, out, note)
	case out < 0:
		return t.Say("piece.beside.in", slide, -out, note)
	}
	return t.Say("piece.beside.same", slide, note)
}

func mm(x float64) int { return int(math.Round(x)) }

// main names the main slide.
func (p Player) main(t phrase.Tongue) string {
	s, _ := p.Instrument.Slide(instrument.Main)
	return t.Slide(s.Name)
}

// gain says what a move is good for.
func gain(pl intonation.PlayerPlan, t phrase.Tongue) string {
	was, is := mm(pl.OneNoteRMS), mm(pl.RMS)
	switch {
	case was > is:
		return t.Say("piece.gain.less", is, was)
	case was < is:
		return t.Say("piece.gain.more", is, was)
	}
	return t.Say("piece.gain.same", is)
}

func (p Player) hurt(x intonation.Hurt, t phrase.Tongue) string {
	return t.Say("piece.hurt", p.Name, t.Notes.Both(pitch.Written(pitch.Usual(x.Note), p.Instrument.Transposition)), t.Off(x.Left))
}

// planWords say what a plan gains over tuning on one note.
func planWords(plan intonation.Plan, t phrase.Tongue) string {
	tenths := func(x float64) any { return number.Decimal(x, number.Scale(1)) }
	if plan.Code == intonation.PlanServes {
		return t.Say("piece.serves", tenths(plan.RMS))
	}
	return t.Say("piece.gains", tenths(plan.RMS), tenths(plan.OneNoteRMS))
}

// remarkKeys are the texts of what reading a score has left out.
var remarkKeys = map[string]string{score.RemarkRepeats: "piece.remark.repeats", score.RemarkDoubled: "piece.remark.doubled", score.RemarkMicrotones: "piece.remark.microtones"}

// remarks say what was left out or guessed.
func (p *Piece) remarks(t phrase.Tongue) []string {
	var out []string
	for _, r := range p.score.Remarks {
		if key := remarkKeys[r]; key != "" {
			r = t.Say(key)
		}
		out = append(out, r)
	}
	if p.cut {
		out = append(out, t.Say("piece.remark.cut", number.Decimal(maxSonorities, number.NoSeparator())))
	}
	if p.long {
		out = append(out, t.Say("piece.remark.long"))
	}
	return out
}
