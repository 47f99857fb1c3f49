package score

import (
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"

	"bellrow/proto/pitch"
)

// rawNote is a <note> as it stands.
type rawNote struct {
	step         string
	alter        float64
	octave       float64
	pitched      bool
	duration     float64
	chord, ghost bool // ghost: grace, cue, not pitched, or not printed
	tieStart     bool
	tieStop      bool
	tied         bool // <tie> was given; <tied> is its drawing
	voice        string
	staff        int
}

func (b *builder) note(w *writing, bar int, e xml.StartElement) error {
	n := rawNote{ghost: attr(e, "print-object") == "no"}
	if err := b.t.each(func(e xml.StartElement) error { return b.noteChild(&n, e) }); err != nil {
		return err
	}
	length, err := w.ticks(n.duration)
	if err != nil {
		return err
	}
	start := w.now
	if n.chord {
		start = w.last
		w.reach = max(w.reach, start+length)
	} else {
		w.last = w.now
		if err := w.advance(length); err != nil {
			return err
		}
	}
	if !n.pitched || n.ghost || length == 0 {
		return nil
	}
	written, err := b.pitch(n)
	if err != nil {
		return err
	}
	return b.keep(w, n, written, bar, start, length)
}

func (b *builder) keep(w *writing, n rawNote, spelled pitch.Spelled, bar int, start, length Ticks) error {
	semitones, ok := w.transpose[n.staff]
	if !ok {
		semitones = w.transpose[0]
	}
	written := spelled.Note()
	sounding := written + pitch.Note(semitones)
	if sounding < pitch.MinNote || sounding > pitch.MaxNote {
		return fmt.Errorf("%w: a note outside C-1 to G9 in bar %s of part %q", ErrNotMusicXML, b.s.Bars[bar].Number, w.part.ID)
	}
	w.under[w.clef[max(1, n.staff)]]++
	if b.notes++; b.notes > MaxNotes {
		return fmt.Errorf("%w: more than %d notes", ErrTooBig, MaxNotes)
	}
	if !spelled.Valid() { // more accidentals than anybody prints
		spelled = pitch.Spelled{}
	}
	w.part.Notes = append(w.part.Notes, Note{
		Bar: bar, Start: start, Length: length, Written: written, Pitch: sounding, Spelled: spelled, Voice: n.voice,
		tieStart: n.tieStart, tieStop: n.tieStop,
	})
	return nil
}

func (b *builder) noteChild(n *rawNote, e xml.StartElement) (err error) {
	switch e.Name.Local {
	case "grace", "cue":
		n.ghost = true
	case "chord":
		n.chord = true
	case "pitch":
		n.pitched = true
		return b.t.each(func(e xml.StartElement) error { return b.pitchChild(n, e) })
	case "duration":
		n.duration, err = b.number()
		return err
	case "voice":
		n.voice, err = b.t.text()
		return err
	case "staff":
		s, err := b.t.text()
		n.staff, _ = strconv.Atoi(s) // a staff that is no number is none
		return err
	case "tie":
		if !n.tied {
			n.tieStart, n.tieStop, n.tied = false, false, true
		}
		n.tie(attr(e, "type"))
	case "notations":
		return b.notations(n)
	}
	return b.t.skip()
}

func (n *rawNote) tie(kind string) {
	n.tieStart = n.tieStart || kind == "start"
	n.tieStop = n.tieStop || kind == "stop"
}

// notations are read for ties that are only drawn.
func (b *builder) notations(n *rawNote) error {
	return b.t.each(func(e xml.StartElement) error {
		if e.Name.Local == "tied" && !n.tied {
			n.tie(attr(e, "type"))
		}
		return b.t.skip()
	})
}

func (b *builder) pitchChild(n *rawNote, e xml.StartElement) (err error) {
	switch e.Name.Local {
	case "step":
		n.step, err = b.t.text()
	case "alter":
		n.alter, err = b.number()
	case "octave":
		n.octave, err = b.number()
	default:
		err = b.t.skip()
	}
	return err
}

// pitch turns step, alter and octave into a note. Microtones go to the
// nearest semitone, with a remark.
func (b *builder) pitch(n rawNote) (pitch.Spelled, error) {
	const steps = "C D EF G A B"
	if len(n.step) != 1 || n.step == " " || !strings.Contains(steps, n.step) || n.octave != math.Trunc(n.octave) || math.Abs(n.octave) > 12 || math.Abs(n.alter) > 12 {
		return pitch.Spelled{}, fmt.Errorf("%w: no such pitch: step %q, alter %g, octave %g", ErrNotMusicXML, clip(n.step), n.alter, n.octave)
	}
	whole := math.Round(n.alter)
	if whole != n.alter {
		b.remark(RemarkMicrotones)
	}
	return pitch.Spelled{Name: pitch.Name{Letter: n.step[0], Alter: int(whole)}, Octave: int(n.octave)}, nil
}
