package instrument

import (
	"math"
	"testing"

	"bellrow/proto/pitch"
)

// O. Cramer, JASA 93:2510 (1993). No published table of outputs was seen: the
// values were computed from the published coefficients by a separate script.
func TestCramer(t *testing.T) {
	for _, c := range []struct{ t, humidity, want float64 }{
		{0, 0, 331.448}, {20, 0, 343.359}, {20, 0.5, 343.987}, {20, 1, 344.614}, {25, 0.5, 347.127}, {30, 1, 351.470},
	} {
		near(t, "speed of sound, m/s", Cramer(c.t, c.humidity, 101325, 0.0004), c.want, 0.002)
	}
	// The simple formula c = 331.3 sqrt(1 + t/273.15) and that of ISO 9613-1 are
	// for dry air and lie within 0.05 % of it.
	for _, celsius := range []float64{0, 10, 20, 30} {
		dry := Cramer(celsius, 0, 101325, 0.0004)
		near(t, "against the simple formula", 331.3*math.Sqrt(1+celsius/273.15), dry, 0.0005*dry)
		near(t, "against ISO 9613-1", 343.2*math.Sqrt((celsius+273.15)/293.15), dry, 0.0005*dry)
	}
	// Breath: saturated at 30 °C, 4 % CO2 instead of 0.04 % (arithmetic; outside
	// the checked range).
	fresh, breath := Cramer(30, 1, 101325, 0.0004), Cramer(30, 1, 101325, 0.04)
	near(t, "carbon dioxide of breath, cents", 1200*math.Log2(breath/fresh), -17.4, 0.1)
	near(t, "humidity at 30 °C, cents", 1200*math.Log2(fresh/Cramer(30, 0, 101325, 0.0004)), 11.5, 0.1)
}

// About 3 cents a degree: D. Sipe, Temperature and Intonation (0.18 %).
func TestPitchPerDegree(t *testing.T) {
	in := find(t, "trumpet_bb")
	at := func(c float64) pitch.Hertz {
		return in.Pitch(Path{Partial: 4}, nil, Air{TemperatureC: c})
	}
	near(t, "cents per degree, dry air", 1200*math.Log2(SpeedOfSound(Air{TemperatureC: 20.5})/SpeedOfSound(Air{TemperatureC: 19.5})), 2.953, 0.01)
	near(t, "cents per degree of the instrument", float64(pitch.Between(at(19.5), at(20.5))), 2.953, 0.04)
	if x := pitch.Between(at(15), at(25)); x < 25 || x > 32 {
		t.Errorf("ten degrees are %.1f cents, want about 30", float64(x))
	}
}

func TestNoAirIsDefaultAir(t *testing.T) {
	if SpeedOfSound(Air{}) != SpeedOfSound(DefaultAir) {
		t.Error("the zero air is not the default")
	}
}
