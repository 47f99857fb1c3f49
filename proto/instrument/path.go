package instrument

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// pressed returns the pressed valves in order; nothing for open.
func (p Path) pressed() []int {
	var vs []int
	for _, c := range p.Valves {
		if c >= '1' && c <= '0'+maxValves {
			vs = append(vs, int(c-'0'))
		}
	}
	return vs
}

func (p Path) presses(valve int) bool { return slices.Contains(p.pressed(), valve) }

// SamePath reports whether two paths use the same tube, whatever the partial.
func (p Path) SamePath(q Path) bool {
	return slices.Equal(p.pressed(), q.pressed()) && p.Position == q.Position && p.Side == q.Side
}

var ordinals = [...]string{"", "1st", "2nd", "3rd", "4th", "5th", "6th", "7th"}

// String says the path as players do: "1-3", "open", "4th position",
// "F attachment 6th position", "both valves 3rd position", "B♭ side 1-2". The
// partial is left out. It is "" for a woodwind.
func (p Path) String() string {
	if p.Position > 0 {
		return attachmentNames[p.Side] + positionName(p.Position) + " position"
	}
	if p.Side == unfingered {
		return ""
	}
	s := "open"
	if vs := p.pressed(); len(vs) > 0 {
		s = strings.Trim(strings.Join(strings.Fields(fmt.Sprint(vs)), "-"), "[]")
	}
	switch p.Side {
	case "F":
		return "F side " + s
	case "Bb":
		return "B♭ side " + s
	}
	return s
}

// attachmentNames says which valves of a trombone are engaged.
var attachmentNames = map[string]string{"F": "F attachment ", "Gb": "second valve ", "D": "both valves "}

func positionName(p float64) string {
	if p == float64(int(p)) && p >= 1 && p <= 7 {
		return ordinals[int(p)]
	}
	return strconv.FormatFloat(p, 'f', -1, 64)
}

var (
	positionForm = regexp.MustCompile(`^(f attachment |f ?|trigger |t|second valve |gb ?|both valves |d ?)?(\d(?:\.\d+)?)(?:st|nd|rd|th)?(?: ?position| ?pos\.?)?$`)
	valveForm    = regexp.MustCompile(`^(?:(f|bb)(?: side)? ?)?(open|0|[1-6](?:[-+, ]{0,2}[1-6])*)$`)
)

// ParsePath reads what Path.String writes, and the shorter forms players
// type: "13", "1+3", "0", "t12", "Bb side 2", "4th position", "F attachment
// 6", "D3". A bare number is a valve; with the word position, or an attachment,
// it is a hand-slide position. The partial is 0: Instrument.Resolve finds it.
func ParsePath(s string) (Path, error) {
	t := strings.ToLower(strings.Join(strings.Fields(strings.ReplaceAll(s, "♭", "b")), " "))
	if side, rest, ok := thumb(t); ok {
		t = side + rest
	}
	if m := valveForm.FindStringSubmatch(t); m != nil {
		return valvePath(s, m[1], m[2])
	}
	if m := positionForm.FindStringSubmatch(t); m != nil && (m[1] != "" || strings.Contains(t, "pos")) {
		return positionPath(s, attachmentOf(m[1]), m[2])
	}
	return Path{}, fmt.Errorf("instrument: fingering %q not understood; write it as 1-3, open, Bb side 2, 4th position or F attachment 6th position", s)
}

// thumb reads horn fingerings with the thumb key: "t12", "t0".
func thumb(t string) (side, rest string, ok bool) {
	if len(t) >= 2 && t[0] == 't' && t[1] >= '0' && t[1] <= '3' {
		return "bb ", t[1:], true
	}
	return "", "", false
}

func valvePath(s, side, valves string) (Path, error) {
	p := Path{Valves: valves}
	vs := p.pressed()
	sorted := slices.Clone(vs)
	slices.Sort(sorted)
	if len(slices.Compact(slices.Clone(sorted))) != len(vs) {
		return Path{}, fmt.Errorf("instrument: fingering %q names a valve twice", s)
	}
	p.Valves = ""
	if len(vs) > 0 {
		p.Valves = strings.Trim(strings.Join(strings.Fields(fmt.Sprint(sorted)), "-"), "[]")
	}
	switch side {
	case "f":
		p.Side = "F"
	case "bb":
		p.Side = "Bb"
	}
	return p, nil
}

// attachmentOf returns the side that a player's word for valves means.
func attachmentOf(word string) string {
	switch strings.TrimSpace(word) {
	case "":
		return ""
	case "second valve", "gb":
		return "Gb"
	case "both valves", "d":
		return "D"
	}
	return "F"
}

func positionPath(s, side, number string) (Path, error) {
	x, err := strconv.ParseFloat(number, 64)
	if err != nil || x < 1 || x >= 8 {
		return Path{}, fmt.Errorf("instrument: position %q, need 1 to 7", s)
	}
	return Path{Position: x, Side: side}, nil
}
