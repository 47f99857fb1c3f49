package phrase

import "bellrow/proto/instrument"

// Path says how a note is played, without its partial: "1-3", "open", "4th
// position", "F attachment 6th position".
func (t Tongue) Path(p instrument.Path) string {
	if p.Position > 0 {
		key := "path.position"
		switch p.Side {
		case "F":
			key = "path.position.f"
		case "Gb":
			key = "path.position.gb"
		case "D":
			key = "path.position.d"
		}
		if n := int(p.Position); float64(n) == p.Position {
			return t.Say(key, t.Nth(n))
		}
		return t.Say(key, t.Say("number.decimal", p.Position))
	}
	if p.String() == "" {
		return "" // of a woodwind
	}
	valves := instrument.Path{Valves: p.Valves}.String()
	if p.Valves == "" || p.Valves == "0" {
		valves = t.Say("path.open")
	}
	switch p.Side {
	case "F":
		return t.Say("path.side.f", valves)
	case "Bb":
		return t.Say("path.side.bb", valves)
	}
	return valves
}
