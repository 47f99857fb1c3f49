package web

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"

	"bellrow/hub"
	"bellrow/proto/instrument"
	"bellrow/proto/name"
	"bellrow/proto/page"
	"bellrow/proto/phrase"
)

// sectionHead is the first line of a section file. Slides stand in the last
// column as "main=12 third=5", travel as "main=12/60".
var sectionHead = []string{"row", "place", "label", "name", "part", "instrument", "slides"}

func (s *Server) getSectionCSV(w http.ResponseWriter, r *http.Request) {
	sec := s.hub.Section()
	attach(w, sec.Name)
	if err := WriteSection(w, sec); err != nil {
		s.log.Info("section not sent", "err", err)
	}
}

// postSectionCSV replaces the chairs of the open section by those of a file.
// Chairs are matched by label, so that settings and history stay theirs.
func (s *Server) postSectionCSV(w http.ResponseWriter, r *http.Request) {
	chairs, err := ReadChairs(http.MaxBytesReader(w, r.Body, maxBody), s.known)
	if long := new(http.MaxBytesError); errors.As(err, &long) {
		err = errTooBig
	} else if err != nil {
		err = &Problem{Code: "bad-section-file", status: http.StatusBadRequest, why: err}
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	sec := s.hub.Section()
	ids := map[string]hub.ChairID{}
	for _, c := range sec.Chairs {
		ids[c.Label] = c.ID
	}
	for i := range chairs {
		chairs[i].ID = ids[chairs[i].Label]
	}
	sec.Chairs = chairs
	if err := s.hub.Command(r.Context(), hub.Command{Do: hub.DoEdit, Section: &sec}); err != nil {
		s.fail(w, r, err)
		return
	}
	page.JSON(w, http.StatusOK, map[string]int{"chairs": len(chairs)})
}

func (s *Server) known(id instrument.ID) bool {
	if s.catalogue == nil {
		return true
	}
	for _, in := range s.catalogue() {
		if in.ID == id {
			return true
		}
	}
	return false
}

// WriteSection writes the chairs of a section as CSV.
func WriteSection(w io.Writer, s hub.Section) error {
	c := csv.NewWriter(w)
	if err := c.Write(sectionHead); err != nil {
		return err
	}
	for _, ch := range s.Chairs {
		line := []string{strconv.Itoa(ch.Row + 1), strconv.Itoa(ch.Place + 1), ch.Label, ch.Name, ch.Part,
			string(ch.Instrument), slidesText(ch)}
		if err := c.Write(safeCells(line)); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// slideOrder is the order of slides in a file.
var slideOrder = []instrument.SlideID{instrument.Main, instrument.FMain, instrument.BbMain, instrument.GbMain, instrument.Hand,
	instrument.First, instrument.Second, instrument.Third, instrument.Fourth, instrument.Fifth, instrument.Sixth,
	instrument.BbFirst, instrument.BbSecond, instrument.BbThird, instrument.Bell}

func slidesText(ch hub.Chair) string {
	var parts []string
	for _, id := range slideOrder {
		mm, ok := ch.Settings[id]
		travel, measured := ch.Travel[id]
		switch {
		case measured:
			parts = append(parts, fmt.Sprintf("%s=%g/%g", id, mm, travel))
		case ok:
			parts = append(parts, fmt.Sprintf("%s=%g", id, mm))
		}
	}
	return strings.Join(parts, " ")
}

// maxChairs bounds a section read from a file.
const maxChairs = 400

// ReadChairs reads a section file. known says which instruments there are.
// Errors name the line.
func ReadChairs(r io.Reader, known func(instrument.ID) bool) ([]hub.Chair, error) {
	c := csv.NewReader(r)
	c.FieldsPerRecord = -1
	c.TrimLeadingSpace = true
	head, err := c.Read()
	if err != nil {
		return nil, fileFault(err, "problem.file.empty")
	}
	head[0] = strings.TrimPrefix(head[0], "\ufeff") // spreadsheets like to begin with a byte order mark
	col := map[string]int{}
	for i, h := range head {
		col[strings.ToLower(strings.TrimSpace(h))] = i
	}
	for _, need := range []string{"label", "instrument"} {
		if _, ok := col[need]; !ok {
			return nil, fileFault(nil, "problem.file.column", need)
		}
	}
	var chairs []hub.Chair
	for {
		line, err := c.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, fileFault(err, "problem.file.broken")
		}
		n, _ := c.FieldPos(0)
		ch, err := chairOf(line, col, len(chairs))
		if err == nil && !known(ch.Instrument) {
			err = lineFault("problem.file.instrument", string(ch.Instrument))
		}
		if fault := (*phrase.Refusal)(nil); errors.As(err, &fault) {
			fault.Figures[0] = n
			return nil, fault
		}
		if chairs = append(chairs, ch); len(chairs) > maxChairs {
			return nil, fileFault(nil, "refusal.chairs", len(chairs), maxChairs)
		}
	}
	if len(chairs) == 0 {
		return nil, fileFault(nil, "problem.file.none")
	}
	return chairs, nil
}

// fileFault is what is wrong with a section file, and what was in its way.
func fileFault(err error, key string, figures ...any) error {
	r := phrase.Refuse("section file", key, figures...)
	if err != nil {
		return fmt.Errorf("%w: %w", r, err)
	}
	return r
}

// lineFault is what is wrong with a line, whose number is the first figure.
func lineFault(key string, figures ...any) error {
	return phrase.Refuse("section file", key, append([]any{0}, figures...)...)
}

func chairOf(line []string, col map[string]int, index int) (hub.Chair, error) {
	cell := func(column string) string {
		if i, ok := col[column]; ok && i < len(line) {
			return strings.TrimSpace(name.FromCell(strings.TrimSpace(line[i]))) // see safeCells
		}
		return ""
	}
	ch := hub.Chair{Label: cell("label"), Name: cell("name"), Part: cell("part"),
		Instrument: instrument.ID(cell("instrument")), Place: index}
	if ch.Label == "" {
		return ch, lineFault("problem.file.label")
	}
	for name, to := range map[string]*int{"row": &ch.Row, "place": &ch.Place} {
		text := cell(name)
		if text == "" {
			continue
		}
		n, err := strconv.Atoi(text)
		if err != nil || n < 1 || n > maxChairs {
			return ch, lineFault("problem.file.number", name, text)
		}
		*to = n - 1
	}
	var err error
	ch.Settings, ch.Travel, err = parseSlides(cell("slides"))
	return ch, err
}

// maxMM bounds a slide: a trombone's hand slide is some 600 mm long.
const maxMM = 1000

func parseSlides(text string) (settings, travel instrument.Settings, err error) {
	settings, travel = instrument.Settings{}, instrument.Settings{}
	for _, part := range strings.Fields(text) {
		id, value, found := strings.Cut(part, "=")
		at, whole, measured := strings.Cut(value, "/")
		mm, err := strconv.ParseFloat(at, 64)
		if !found || err != nil || !(mm >= 0 && mm <= maxMM) {
			return nil, nil, lineFault("problem.file.slide", part)
		}
		settings[instrument.SlideID(id)] = mm
		if !measured {
			continue
		}
		t, err := strconv.ParseFloat(whole, 64)
		if err != nil || !(t > 0 && t <= maxMM) {
			return nil, nil, lineFault("problem.file.slide", part)
		}
		travel[instrument.SlideID(id)] = t
	}
	return settings, travel, nil
}
