package advise

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"

	"bellrow/cmd/bellrow/plain"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// sectionForm is how a player's line is written.
const sectionForm = "a line is INSTRUMENT NOTE CENTS [SLIDE=MM ...], for example trumpet_bb Bb4 +12 main=12"

// Section is what a section has in common, and each one's own.
type Section struct {
	slide.AsOne
	Offer   slide.Offer   `json:"offer"`
	Players []SectionSeat `json:"players"`
	Remark  string        `json:"remark,omitempty"`
}

// SectionSeat is one line of the section.
type SectionSeat struct {
	Instrument instrument.ID `json:"instrument"`
	Note       string        `json:"note"`
	shown      string        // as it was asked for
	Cents      pitch.Cents   `json:"cents"`
	Theory     pitch.Cents   `json:"theory_cents"`
	Nature     pitch.Cents   `json:"nature_cents"` // of Theory what was taken out: all, or nothing of a little
	Own        pitch.Cents   `json:"own_cents"`
	Told       struct {
		slide.Advice
		slide.Words
	} `json:"told"`
}

// ReadSection reads one player a line and judges the section. Empty lines and
// lines that begin with # are left out.
func ReadSection(name string, r io.Reader, t Typed) (Section, error) {
	if t.Notes == nil {
		t.Notes = new(plain.Notes)
	}
	var out Section
	var seats []slide.Seat
	sc := bufio.NewScanner(io.LimitReader(r, maxReadings))
	for n := 1; sc.Scan(); n++ {
		line := strings.TrimSpace(sc.Text())
		if line == "" || line[0] == '#' {
			continue
		}
		s, note, err := seat(line, t.Notes)
		if err != nil {
			return Section{}, plain.Misuse(sectionForm, "%s, line %d: %v", name, n, err)
		}
		seats = append(seats, s)
		out.Players = append(out.Players, SectionSeat{Instrument: s.Instrument.ID, Note: note.String(), shown: t.Notes.Style.Of(note), Cents: s.Offset, Theory: s.Instrument.Tendency(s.Path), Nature: s.Instrument.Nature(s.Path)})
	}
	if err := sc.Err(); err != nil || len(seats) == 0 {
		return Section{}, plain.Fail(sectionForm, "%s holds no player", name)
	}
	out.AsOne = slide.Together(t.Reference, seats, t.Good, false)
	out.Offer = slide.CommonPitch(t.Reference, seats, nil)
	for i := range out.Players {
		out.Players[i].Own = out.Own[i]
		if out.Off {
			told := &out.Players[i].Told
			told.Advice = out.Answer(i)
			told.Words = slide.SayIn(phrase.Tongue{Notes: t.Notes.Style}, told.Advice)
		}
	}
	out.Remark = (&Adviser{typed: t}).remark()
	return out, nil
}

// seat reads one player's line.
func seat(line string, notes *plain.Notes) (slide.Seat, pitch.Note, error) {
	f := strings.Fields(line)
	if len(f) < 3 {
		return slide.Seat{}, 0, fmt.Errorf("%q has no cents", line)
	}
	in, err := instrument.Find(instrument.ID(f[0]))
	if err != nil {
		return slide.Seat{}, 0, fmt.Errorf("%s", strings.TrimPrefix(err.Error(), "instrument: "))
	}
	typed, err := notes.Parse(f[1])
	if err != nil {
		return slide.Seat{}, 0, err
	}
	n := typed.Note()
	ways := in.Paths(n)
	if len(ways) == 0 {
		return slide.Seat{}, 0, fmt.Errorf("the %s does not play %s", lower(in.Name), notes.Style.Of(n))
	}
	cents, err := strconv.ParseFloat(f[2], 64)
	if err != nil || !(cents >= -maxCents && cents <= maxCents) {
		return slide.Seat{}, 0, fmt.Errorf("%q is not a number of cents", f[2])
	}
	set, err := onSlides(in, f[3:], true)
	return slide.Seat{Instrument: in, Path: ways[0], Settings: set, Offset: pitch.Cents(cents)}, n, err
}

// Text is the answer for the leader: the common part and the choices, then each
// player's own.
func (s Section) Text() string {
	var b strings.Builder
	if s.Words == "" {
		fmt.Fprintln(&b, "The section is not off as one: each has their own part.")
	} else {
		fmt.Fprintln(&b, s.Words)
	}
	for i, c := range s.Choices {
		fmt.Fprintf(&b, "  %d. %s\n", i+1, c.Words)
	}
	if !s.Off && s.Offer.Changed {
		fmt.Fprintln(&b, s.Offer.Words)
	}
	if s.Remark != "" {
		fmt.Fprintln(&b, s.Remark)
	}
	fmt.Fprintln(&b)
	tw := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "  INSTRUMENT\tNOTE\tREAD\tBY NATURE\tCOMMON\tOWN")
	for _, p := range s.Players {
		// What is left of the figures shown beside it: each rounded alone, they need
		// not add up.
		own := round(p.Cents) - round(p.Nature) - round(s.Common)
		fmt.Fprintf(tw, "  %s\t%s\t%s\t%s\t%s\t%s\n", p.Instrument, p.shown, signed(p.Cents), signed(p.Nature), signed(s.Common), signed(own))
	}
	tw.Flush()
	return b.String()
}

// signed is a whole number of cents with its sign: no "-0".
func signed(x pitch.Cents) string { return fmt.Sprintf("%+.0f", float64(round(x))+0) }

func round(x pitch.Cents) pitch.Cents { return pitch.Cents(math.Round(float64(x))) }
