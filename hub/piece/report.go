package piece

import (
	"math"

	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Report is a piece and its plan for machines, in figures.
type Report struct {
	Title      string           `json:"title,omitempty"`
	Parts      []ReportPart     `json:"parts"`
	Bars       int              `json:"bars"`
	Sonorities []ReportSonority `json:"sonorities"`
	Plan       *ReportPlan      `json:"plan,omitempty"`
	Signs      []ReportSigns    `json:"signs,omitempty"`
	Remarks    []string         `json:"remarks,omitempty"`
}

// ReportPart is one part of the score.
type ReportPart struct {
	Name          string        `json:"name"`
	Instrument    instrument.ID `json:"instrument,omitempty"` // of who plays it
	Transposition int           `json:"transposition"`
	Notes         int           `json:"notes"`
}

// ReportSonority is one held sonority, with all the notes that the score has.
type ReportSonority struct {
	Bar    string       `json:"bar"`
	Offset float64      `json:"offset_quarters"`
	Length float64      `json:"length_quarters"`
	Tones  []ReportTone `json:"tones"`
	Chords []string     `json:"chords"`
}

// ReportTone is a part's sounding note.
type ReportTone struct {
	Part string `json:"part"`
	Note string `json:"note"`
}

// ReportSigns are what a bar says about the way through the piece.
type ReportSigns struct {
	Bar   string   `json:"bar"`
	Signs []string `json:"signs"`
}

// ReportPlan is the plan in figures.
type ReportPlan struct {
	OneNoteRMS float64        `json:"one_note_rms_cents"`
	RMS        float64        `json:"rms_cents"`
	Words      string         `json:"words"`
	Players    []ReportPlayer `json:"players"`
	Hurts      []ReportHurt   `json:"hurts"`
	Unplayable int            `json:"unplayable"`
}

// ReportPlayer is one player's part of the plan.
type ReportPlayer struct {
	Name       string  `json:"name"`
	MainMM     float64 `json:"main_mm"`
	OneNoteMM  float64 `json:"one_note_mm"`
	TravelMM   float64 `json:"travel_mm"`
	RMS        float64 `json:"rms_cents"`
	OneNoteRMS float64 `json:"one_note_rms_cents"`
}

// ReportHurt is a tone that stays out, the gravest first.
type ReportHurt struct {
	Bar  string  `json:"bar"`
	Name string  `json:"name"`
	Note string  `json:"note"`
	Left float64 `json:"left_cents"`
}

// Report tells everything. plan may be nil; chairs are those of the section.
func (p *Piece) Report(chairs []Chair, plan *Plan) Report {
	out := Report{Title: p.score.Title, Bars: len(p.score.Bars), Sonorities: []ReportSonority{}, Remarks: p.remarks(phrase.Tongue{})}
	played := map[int]instrument.ID{}
	for _, c := range chairs {
		if part, plays := p.seats[c.ID]; plays {
			played[part] = c.Instrument
		}
	}
	for i, part := range p.score.Parts {
		out.Parts = append(out.Parts, ReportPart{part.Name, played[i], part.Transposition, len(part.Notes)})
	}
	for _, bar := range p.score.Bars {
		if len(bar.Signs) > 0 {
			out.Signs = append(out.Signs, ReportSigns{bar.Number, bar.Signs})
		}
	}
	for _, x := range p.list {
		s := ReportSonority{Bar: p.score.Bars[x.Bar].Number, Offset: x.Offset.Quarters(), Length: x.Length.Quarters(), Chords: []string{}}
		for _, t := range x.Tones {
			s.Tones = append(s.Tones, ReportTone{p.score.Parts[t.Part].Name, t.Note.String()})
		}
		for _, c := range x.Chords {
			s.Chords = append(s.Chords, c.String())
		}
		out.Sonorities = append(out.Sonorities, s)
	}
	if plan != nil {
		out.Plan = p.reportPlan(plan)
	}
	return out
}

func (p *Piece) reportPlan(plan *Plan) *ReportPlan {
	f := plan.Figures
	out := &ReportPlan{OneNoteRMS: f.OneNoteRMS, RMS: f.RMS, Words: plan.Words, Unplayable: f.Unplayable, Hurts: []ReportHurt{}}
	for _, pl := range f.Players {
		out.Players = append(out.Players, ReportPlayer{pl.Name, pl.MainMM, pl.OneNoteMM, pl.TravelMM, pl.RMS, pl.OneNoteRMS})
	}
	for _, h := range f.Hurts {
		out.Hurts = append(out.Hurts, ReportHurt{p.score.Bars[h.Bar].Number, f.Players[h.Player].Name, h.Note.String(), hundredths(h.Left)})
	}
	return out
}

func hundredths(c pitch.Cents) float64 { return math.Round(100*float64(c)) / 100 }
