package main

import "bellrow/proto/instrument"

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
