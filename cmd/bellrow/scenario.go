package main

import (
	"fmt"
	"strconv"
	"strings"

	"bellrow/node/simulate/player"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// demoSection is invented, as are its players and everything about them.
const demoSection = "Tidemill Lane Brass"

// demoPlayer is one member of the invented section. row 0 is in front, place
// counts from the leader's left.
type demoPlayer struct {
	label, name string
	instrument  instrument.ID
	row, place  int
	spec        string // as for node --simulate
}

// demoPlayers has one of everything a leader meets on a Monday.
var demoPlayers = []demoPlayer{
	{"Horn 1", "Elif", "horn_f", 0, 0, "build=-9,seed=1"},
	{"Horn 2", "Fenna", "horn_f", 0, 1, "build=4,wrong=concert-name,seed=2"},
	{"Baritone", "Jori", "baritone_bb_tc", 0, 2, "build=-3,seed=3"},
	{"Euphonium", "Goran", "euphonium_bb_bc", 0, 3, "build=17,seed=4"},
	{"Trumpet 1", "Ada", "trumpet_bb", 1, 0, "build=13,pinch=12,habit=pincher,seed=5"},
	{"Trumpet 2", "Bram", "trumpet_bb", 1, 1, "build=21,habit=holder,seed=6"},
	{"Trumpet 3", "Celia", "trumpet_bb", 1, 2, "build=-14,seed=7"},
	{"Trombone 1", "Hanno", "tenor_trombone_bbf", 2, 0, "build=8,vibrato=30,seed=8"},
	{"Trombone 2", "Ivo", "tenor_trombone_bbf", 2, 1, "build=-12,seed=9"},
	{"Bass trombone", "Juno", "bass_trombone_bb", 2, 2, "build=2,seed=10"},
	{"Tuba 1", "Kees", "tuba_eb", 2, 3, "build=-6,cold=25,seed=11"},
	{"Tuba 2", "Lune", "tuba_bbb", 2, 4, "build=15,seed=12"},
}

// parsePlayer reads what --simulate says of a player: key=value pairs with
// commas between. Lengths of slides are given as slide=MM.
func parsePlayer(in *instrument.Instrument, spec string) (player.Config, error) {
	c := player.Config{Instrument: in, Settings: instrument.Settings{}}
	for _, pair := range strings.Split(spec, ",") {
		key, value, ok := strings.Cut(strings.TrimSpace(pair), "=")
		if !ok && pair != "" {
			return c, badSpec("%q has no value", pair)
		}
		if err := setPlayer(&c, key, value); err != nil {
			return c, err
		}
	}
	return c, nil
}

func badSpec(format string, a ...any) error {
	return misused("for example: --simulate build=+12,habit=holder,seed=3; the keys are build, habit, pinch, cold, wrong, vibrato, level, seed, and a slide's name", format, a...)
}

func setPlayer(c *player.Config, key, value string) error {
	switch key {
	case "":
		return nil
	case "habit":
		c.Habit = player.Habit(value)
		return nil
	case "wrong":
		c.Wrong = player.Wrong(value)
		return nil
	}
	x, err := strconv.ParseFloat(value, 64)
	if err != nil {
		return badSpec("%s=%s is no number", key, value)
	}
	switch key {
	case "build":
		c.Build = pitch.Cents(x)
	case "pinch":
		c.Pinch = pitch.Cents(x)
	case "cold":
		c.Cold = pitch.Cents(x)
	case "vibrato":
		c.Vibrato = pitch.Cents(x)
	case "level":
		c.Level = pitch.Level(x)
	case "seed":
		c.Seed = uint64(x)
	default:
		if _, ok := c.Instrument.Slide(instrument.SlideID(key)); !ok {
			return badSpec("there is no %q to simulate on %s", key, fmt.Sprint(c.Instrument.Name))
		}
		c.Settings[instrument.SlideID(key)] = x
	}
	return nil
}
