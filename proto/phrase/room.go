package phrase

import (
	"math"
	"strconv"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Fahrenheit reports whether readers of the language say temperatures in °F.
func (t Tongue) Fahrenheit() bool { return t.speaks().tag == "en-US" }

// Degrees is a temperature, given in °C, in the unit of the language, to a tenth.
func (t Tongue) Degrees(c float64) float64 {
	if t.Fahrenheit() {
		c = instrument.Fahrenheit(c)
	}
	return math.Round(10*c) / 10
}

// Room says a temperature with its unit: "20 °C", "68 °F".
func (t Tongue) Room(c float64) string {
	key := "evening.celsius"
	if t.Fahrenheit() {
		key = "evening.fahrenheit"
	}
	return t.Say(key, strconv.FormatFloat(math.Round(t.Degrees(c))+0, 'f', -1, 64))
}

// Evening tells where a section that has warmed up will stand in a room, so that
// A can be chosen on purpose: with the source, and how far it can be trusted.
func (t Tongue) Evening(e instrument.Evening) string {
	a, _, _ := e.A4(pitch.Reference{}) // that instruments are built for
	hz, mild := int(math.Round(float64(a))), t.Room(instrument.DefaultAir.TemperatureC)
	said := t.Say("evening.same", t.Room(e.RoomC), mild, hz)
	if math.Round(float64(e.Expected)) != 0 {
		key, near, far := "evening.higher", whole(float64(e.Low)), whole(float64(e.High))
		if e.Expected < 0 {
			key = "evening.lower"
		}
		said = t.Say(key, t.Room(e.RoomC), t.Cents(e.Expected), mild, min(near, far), max(near, far), hz)
	}
	said += " " + t.Say("evening.theory")
	if e.Beyond {
		said += " " + t.Say("evening.beyond")
	}
	return said + " " + t.Say("evening.choose")
}
