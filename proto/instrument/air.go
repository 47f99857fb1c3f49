package instrument

import "math"

// DefaultAir is a mild room: 20 °C, half saturated.
var DefaultAir = Air{TemperatureC: 20, Humidity: 0.5}

// Ordinary air: standard pressure, and the carbon dioxide of fresh air.
const (
	standardPressurePa = 101325
	freshAirCO2        = 0.0004 // mole fraction
)

// Range in which Cramer (1993) checked his formula.
const (
	MinTemperatureC = 0
	MaxTemperatureC = 30
)

// SpeedOfSound returns the speed of sound in a, in m/s, at standard pressure
// in fresh air (Cramer 1993). Breath carries more carbon dioxide, which slows
// sound by up to 1 %; that lies outside the formula's checked range and is
// left to the player's own readings.
func SpeedOfSound(a Air) float64 {
	a = a.orDefault()
	return Cramer(a.TemperatureC, a.Humidity, standardPressurePa, freshAirCO2)
}

func (a Air) orDefault() Air {
	if a == (Air{}) {
		return DefaultAir
	}
	return a
}

// cramer holds a0 to a15 of Cramer (1993), table III.
var cramer = [16]float64{
	331.5024, 0.603055, -0.000528, 51.471935, 0.1495874, -0.000782,
	-1.82e-7, 3.73e-8, -2.93e-10, -85.20931, -0.228525,
	5.91e-5, -2.835149, -2.15e-13, 29.179762, 0.000486,
}

// Cramer returns the speed of sound in m/s at t °C, relative humidity 0 to 1,
// pressure in Pa and carbon dioxide as a mole fraction: O. Cramer, JASA
// 93:2510 (1993), eq. 15, with the vapour pressure of Davis (1992). It was
// checked there for 0 to 30 °C, 75 to 102 kPa; within 300 ppm.
func Cramer(t, humidity, pressurePa, co2 float64) float64 {
	k := t + 273.15
	enhancement := 1.00062 + 3.14e-8*pressurePa + 5.6e-7*t*t
	saturation := math.Exp(1.2378847e-5*k*k - 1.9121316e-2*k + 33.93711047 - 6.3431645e3/k)
	xw := humidity * enhancement * saturation / pressurePa
	a := cramer
	return a[0] + a[1]*t + a[2]*t*t +
		(a[3]+a[4]*t+a[5]*t*t)*xw +
		(a[6]+a[7]*t+a[8]*t*t)*pressurePa +
		(a[9]+a[10]*t+a[11]*t*t)*co2 +
		a[12]*xw*xw + a[13]*pressurePa*pressurePa + a[14]*co2*co2 + a[15]*xw*pressurePa*co2
}
