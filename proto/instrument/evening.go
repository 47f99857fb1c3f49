package instrument

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"bellrow/proto/pitch"
)

// Rooms that an evening can be foretold for, in °C.
const (
	MinRoomC = 0
	MaxRoomC = 40
)

// How far a played instrument follows the room, in cents per °C: less than the
// air alone, since breath warms and dampens the tube and players adjust (from
// memory; no measured figure was found). The section's own evenings tell better.
const (
	roomLeast, roomUsual, roomMost = 1, 2, 3
)

// Evening is where a section that has warmed up will stand in a room, in cents
// from where it stands at 20 °C: theory for the leader, never a measurement
// and no part of any move.
type Evening struct {
	RoomC float64 `json:"room_c"`
	// Air is what the air alone would do (O. Cramer, JASA 93:2510, 1993; he
	// checked 0 to 30 °C).
	Air pitch.Cents `json:"air_cents"`
	// Expected is what instruments do of it, between Low and High.
	Expected pitch.Cents `json:"expected_cents"`
	Low      pitch.Cents `json:"low_cents"`
	High     pitch.Cents `json:"high_cents"`
	// Beyond tells that the room is warmer than Cramer's formula was checked for.
	Beyond bool `json:"beyond,omitempty"`
}

// EveningAt foretells the pitch of an evening in a room of so many °C.
func EveningAt(roomC float64) (Evening, error) {
	if !(roomC >= MinRoomC && roomC <= MaxRoomC) {
		return Evening{}, fmt.Errorf("instrument: a room of %g °C, need %d to %d °C (%.0f to %.0f °F)", roomC, MinRoomC, MaxRoomC, Fahrenheit(MinRoomC), Fahrenheit(MaxRoomC))
	}
	d := roomC - DefaultAir.TemperatureC
	air := DefaultAir
	air.TemperatureC = roomC
	e := Evening{
		RoomC: roomC, Beyond: roomC > MaxTemperatureC,
		Air:      pitch.Cents(1200 * math.Log2(SpeedOfSound(air)/defaultSpeed)),
		Expected: pitch.Cents(roomUsual * d), Low: pitch.Cents(roomLeast * d), High: pitch.Cents(roomMost * d),
	}
	if d < 0 {
		e.Low, e.High = e.High, e.Low
	}
	return e, nil
}

// A4 is the reference at which a section that stands at r at 20 °C would be in
// tune without moving a slide.
func (e Evening) A4(r pitch.Reference) (expected, low, high pitch.Hertz) {
	a := r.Frequency(pitch.A4)
	return a.Shift(e.Expected), a.Shift(e.Low), a.Shift(e.High)
}

// Fahrenheit is a temperature in °F that is given in °C.
func Fahrenheit(c float64) float64 { return c*9/5 + 32 }

// ParseRoom reads a room temperature in °C: "21", "21.5 C", "70 °F". A number
// without a unit that no room has in °C is in °F.
func ParseRoom(s string) (float64, error) {
	t := strings.ToUpper(strings.NewReplacer("°", "", " ", "", ",", ".").Replace(s))
	number, f := strings.CutSuffix(t, "F")
	number, c := strings.CutSuffix(number, "C")
	x, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) || f && c {
		return 0, fmt.Errorf("instrument: temperature %q, need a number with C or F: 21, 21 C, 70 F", s)
	}
	if f || !c && x > MaxRoomC {
		x = (x - 32) * 5 / 9
	}
	return x, nil
}
