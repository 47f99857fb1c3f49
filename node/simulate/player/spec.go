package player

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Parse reads how somebody plays from key=value pairs with commas between:
// build, pinch, cold and vibrato in cents, level in dBFS, habit, wrong, seed,
// and a slide of the instrument with where it stands in mm.
func Parse(in *instrument.Instrument, spec string) (Config, error) {
	c := Config{Instrument: in, Settings: instrument.Settings{}}
	for _, pair := range strings.Split(spec, ",") {
		key, value, ok := strings.Cut(strings.TrimSpace(pair), "=")
		if !ok {
			return c, fmt.Errorf("player: %q has no value", pair)
		}
		if err := c.set(key, value); err != nil {
			return c, err
		}
	}
	_, err := New(c)
	return c, err
}

// maxSpecCents is an octave: more is another note.
const maxSpecCents = 1200

func (c *Config) set(key, value string) (err error) {
	switch key {
	case "habit":
		c.Habit = Habit(value)
		return nil
	case "wrong":
		if c.Wrong = Wrong(value); !slices.Contains([]Wrong{ConcertName, NextPartial, OtherSide}, c.Wrong) {
			return fmt.Errorf("player: wrong note %q, need concert-name, next-partial or other-side", value)
		}
		return nil
	case "seed":
		if c.Seed, err = strconv.ParseUint(value, 10, 64); err != nil {
			return fmt.Errorf("player: seed %q, need a whole number", value)
		}
		return nil
	}
	low, high := -float64(maxSpecCents), float64(maxSpecCents)
	cents := map[string]*pitch.Cents{"build": &c.Build, "pinch": &c.Pinch, "cold": &c.Cold, "vibrato": &c.Vibrato}
	sl, isSlide := c.Instrument.Slide(instrument.SlideID(key))
	switch {
	case key == "level":
		low, high = -100, 0
	case isSlide:
		low, high = 0, sl.TravelMM
	case cents[key] == nil:
		return fmt.Errorf("player: there is no %q to simulate on the %s; there are %s, level, habit, wrong, seed and its slides", key, c.Instrument.Name, strings.Join(slices.Sorted(maps.Keys(cents)), ", "))
	}
	x, err := strconv.ParseFloat(value, 64)
	if err != nil || !(x >= low && x <= high) {
		return fmt.Errorf("player: %s=%s, need a number from %g to %g", key, value, low, high)
	}
	switch {
	case key == "level":
		c.Level = pitch.Level(x)
	case isSlide:
		c.Settings[sl.ID] = x
	default:
		*cents[key] = pitch.Cents(x)
	}
	return nil
}
