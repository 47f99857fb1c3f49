package advise

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"

	"bellrow/cmd/bellrow/plain"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// lineForm is how a note's line is written.
const lineForm = "a line is NOTE CENTS [FINGERING], for example Bb4 +12"

// readings reads one note a line: plain, or JSON as bellrow read prints
// it. Empty lines and lines that begin with # are left out. Errors name file
// and line.
func (a *Adviser) readings(name string, r io.Reader) ([]slide.Heard, error) {
	var all []slide.Heard
	sc := bufio.NewScanner(io.LimitReader(r, maxReadings))
	for n := 1; sc.Scan(); n++ {
		line := strings.TrimSpace(sc.Text())
		if line == "" || line[0] == '#' {
			continue
		}
		parse := a.plainReading
		if line[0] == '{' {
			parse = a.jsonReading
		}
		h, err := parse(line)
		if err != nil {
			return nil, plain.Misuse(lineForm, "%s, line %d: %v", name, n, err)
		}
		all = append(all, h)
	}
	if err := sc.Err(); err != nil {
		return nil, plain.Fail(lineForm, "%s cannot be read: %v", name, err)
	}
	return all, nil
}

func (a *Adviser) plainReading(line string) (slide.Heard, error) {
	fields := strings.Fields(line)
	if len(fields) < 2 {
		return slide.Heard{}, fmt.Errorf("%q has no cents", line)
	}
	cents, err := strconv.ParseFloat(fields[1], 64)
	if err != nil || !(cents >= -maxCents && cents <= maxCents) {
		return slide.Heard{}, fmt.Errorf("%q is not a number of cents", fields[1])
	}
	note, err := a.typed.Notes.Parse(fields[0])
	if err != nil {
		return slide.Heard{}, err
	}
	h, err := a.heard(note.Note(), strings.Join(fields[2:], " "))
	h.Reading = slide.Reading{Hz: h.Target.Shift(pitch.Cents(cents)), CI95: TypedCI, Settled: true}
	return h, err
}

func (a *Adviser) jsonReading(line string) (h slide.Heard, err error) {
	var l struct {
		Note      string  `json:"note"`
		Hz        float64 `json:"hz"`
		CI95      float64 `json:"ci95_cents"`
		Spread    float64 `json:"spread_cents"`
		Drift     float64 `json:"drift_cents_per_s"`
		Level     float64 `json:"level_dbfs"`
		Early     float64 `json:"early_cents"`
		Settled   bool    `json:"settled"`
		Reason    string  `json:"reason"`
		Fingering string  `json:"fingering"`
	}
	if err := json.Unmarshal([]byte(line), &l); err != nil {
		return slide.Heard{}, fmt.Errorf("not a reading: %v", err)
	}
	note := a.note
	if l.Note == "" {
		l.Settled = false // no pitch: kept out by the solver
	} else if note, err = pitch.ParseNote(l.Note); err != nil { // JSON names notes in English
		return slide.Heard{}, err
	}
	h, err = a.heard(note, l.Fingering)
	h.Reading = slide.Reading{
		Hz: pitch.Hertz(l.Hz), CI95: pitch.Cents(l.CI95), Spread: pitch.Cents(l.Spread), Drift: l.Drift,
		Level: pitch.Level(l.Level), Early: pitch.Cents(l.Early), Settled: l.Settled, Reason: l.Reason,
	}
	return h, err
}

// heard finds fingering and target of one line.
func (a *Adviser) heard(n pitch.Note, fingering string) (slide.Heard, error) {
	ways := a.instrument.Paths(n)
	if len(ways) == 0 {
		return slide.Heard{}, fmt.Errorf("this instrument does not play %s", a.of(n))
	}
	h := slide.Heard{Note: n, Path: ways[0], Target: a.typed.Reference.Frequency(n)}
	if fingering == "" {
		return h, nil
	}
	p, err := instrument.ParsePath(fingering)
	if err == nil {
		p, err = a.instrument.Resolve(p, n)
	}
	if err != nil {
		return slide.Heard{}, fmt.Errorf("%s is not played with %q", a.of(n), fingering)
	}
	h.Path = p
	return h, nil
}
