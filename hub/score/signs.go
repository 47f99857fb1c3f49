package score

import (
	"encoding/xml"
	"slices"
)

// RemarkRepeats is said once where anything is to be played otherwise than
// straight through.
const RemarkRepeats = "Repeats, endings and jumps are noted but not played out: every written bar counts once."

// Remarks as records keep them, in English.
const (
	RemarkDoubled    = "A part doubled at the octave is read once, at its own pitch."
	RemarkMicrotones = "Microtones are read as the nearest semitone."
)

func (b *builder) sign(bar int, words string) {
	b.remark(RemarkRepeats)
	// Every part of a score carries the same signs.
	if signs := &b.s.Bars[bar].Signs; !slices.Contains(*signs, words) && len(*signs) < maxSigns {
		*signs = append(*signs, words)
	}
}

// maxSigns is more than can stand in one bar.
const maxSigns = 16

func (b *builder) barline(bar int) error {
	return b.t.each(func(e xml.StartElement) error {
		switch e.Name.Local {
		case "repeat":
			switch attr(e, "direction") {
			case "forward":
				b.sign(bar, "repeat from here")
			case "backward":
				b.sign(bar, "repeat")
			}
		case "ending":
			if attr(e, "type") == "start" {
				b.sign(bar, "ending "+attr(e, "number"))
			}
		case "segno", "coda":
			b.sign(bar, e.Name.Local)
		}
		return b.t.skip()
	})
}

// direction is read for segno, coda and jumps.
func (b *builder) direction(bar int) error {
	return b.t.each(func(e xml.StartElement) error {
		switch e.Name.Local {
		case "sound":
			b.jump(bar, e)
		case "direction-type":
			return b.t.each(func(e xml.StartElement) error {
				if e.Name.Local == "segno" || e.Name.Local == "coda" {
					b.sign(bar, e.Name.Local)
				}
				return b.t.skip()
			})
		}
		return b.t.skip()
	})
}

// jumps are the attributes of <sound> that send the player elsewhere.
var jumps = []struct{ attribute, words string }{
	{"dacapo", "da capo"}, {"dalsegno", "dal segno"}, {"tocoda", "to coda"}, {"fine", "fine"},
}

func (b *builder) jump(bar int, e xml.StartElement) {
	for _, j := range jumps {
		if v := attr(e, j.attribute); v != "" && v != "no" {
			b.sign(bar, j.words)
		}
	}
}
