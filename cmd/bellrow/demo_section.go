package main

import (
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// demoPlayer is one member of the invented section. row 0 is in front, place
// counts from the leader's left.
type demoPlayer struct {
	label, name string
	instrument  instrument.ID
	row, place  int
	spec        string // as for node --simulate
}

// demoBand is one invented section with its words for notes and parts.
type demoBand struct {
	section  string
	language string // of its pages, as hub.Section has it
	notes    pitch.Style
	players  []demoPlayer
}

// demoBands are the sections by the word of --language. They are invented, as are
// their players and everything about them.
var demoBands = map[string]demoBand{
	"en": {"Tidemill Lane Brass", "", pitch.Style{}, demoPlayers},
	"us": {"Juniper Flats Community Band", "en-US", pitch.Style{}, americanPlayers},
	"de": {"Bläser vom Krummen Bach", "de", pitch.Style{Naming: pitch.German}, germanPlayers},
	"fr": {"Harmonie des Trois Écluses", "fr", pitch.Style{Naming: pitch.French}, frenchPlayers},
	"es": {"Banda de la Fuente Torcida", "es", pitch.Style{Naming: pitch.Spanish}, spanishPlayers},
}

// germanPlayers have flugelhorns, tenor horns and rotary tubas.
var germanPlayers = []demoPlayer{
	{"Flügelhorn 1", "Anke", "flugelhorn_bb", 0, 0, "build=11,seed=1"},
	{"Flügelhorn 2", "Birte", "flugelhorn_bb", 0, 1, "build=-6,seed=2"},
	{"Tenorhorn", "Curd", "baritone_bb_tc", 0, 2, "build=9,seed=3"},
	{"Bariton", "Dörte", "euphonium_bb_3v_tc", 0, 3, "build=-12,seed=4"},
	{"Trompete 1", "Edda", "trumpet_bb", 1, 0, "build=14,seed=5"},
	{"Trompete 2", "Fokke", "trumpet_bb", 1, 1, "build=-8,habit=holder,seed=6"},
	{"Horn in F", "Gesa", "horn_double", 1, 2, "build=4,seed=7"},
	{"Posaune 1", "Hinrich", "tenor_trombone_bbf", 2, 0, "build=-10,seed=8"},
	{"Posaune 2", "Inken", "tenor_trombone_bb", 2, 1, "build=7,seed=9"},
	{"Tuba in F", "Jelto", "tuba_f_6v", 2, 2, "build=-5,seed=10"},
	{"Tuba in B", "Karen", "tuba_bbb", 2, 3, "build=12,seed=11"},
}

// frenchPlayers are the brass of a harmonie.
var frenchPlayers = []demoPlayer{
	{"Cornet 1", "Aude", "cornet_bb", 0, 0, "build=12,seed=1"},
	{"Cornet 2", "Basile", "cornet_bb", 0, 1, "build=-7,seed=2"},
	{"Bugle", "Cyprien", "flugelhorn_bb", 0, 2, "build=6,seed=3"},
	{"Trompette", "Diane", "trumpet_bb", 0, 3, "build=-13,seed=4"},
	{"Cor en fa", "Elvire", "horn_double", 1, 0, "build=5,seed=5"},
	{"Alto mi♭", "Fantin", "tenor_horn_eb", 1, 1, "build=-9,seed=6"},
	{"Baryton", "Garance", "baritone_bb_tc", 1, 2, "build=10,seed=7"},
	{"Basse si♭", "Honorin", "euphonium_bb_tc", 1, 3, "build=-4,seed=8"},
	{"Trombone 1", "Iris", "tenor_trombone_bbf", 2, 0, "build=8,seed=9"},
	{"Trombone 2", "Jonas", "tenor_trombone_bb_tenor", 2, 1, "build=-11,seed=10"},
	{"Contrebasse si♭", "Léonie", "bass_bb_tc", 2, 2, "build=13,seed=11"},
}

// spanishPlayers are the brass of a banda.
var spanishPlayers = []demoPlayer{
	{"Trompeta 1", "Abril", "trumpet_bb", 0, 0, "build=11,seed=1"},
	{"Trompeta 2", "Bruno", "trumpet_bb", 0, 1, "build=-8,habit=holder,seed=2"},
	{"Fliscorno 1", "Candela", "flugelhorn_bb", 0, 2, "build=7,seed=3"},
	{"Fliscorno 2", "Darío", "flugelhorn_bb", 0, 3, "build=-12,seed=4"},
	{"Trompa 1", "Elena", "horn_double", 1, 0, "build=5,seed=5"},
	{"Trompa 2", "Fermín", "horn_f", 1, 1, "build=-6,seed=6"},
	{"Bombardino 1", "Gala", "euphonium_bb_bc", 1, 2, "build=14,seed=7"},
	{"Bombardino 2", "Hugo", "euphonium_bb_bc", 1, 3, "build=-4,seed=8"},
	{"Trombón 1", "Inés", "tenor_trombone_bbf", 2, 0, "build=9,seed=9"},
	{"Trombón 2", "Jairo", "tenor_trombone_bb", 2, 1, "build=-10,seed=10"},
	{"Tuba", "Lidia", "tuba_cc", 2, 2, "build=13,seed=11"},
}

// americanPlayers are the brass of a concert band.
var americanPlayers = []demoPlayer{
	{"Trumpet 1", "Avery", "trumpet_bb", 0, 0, "build=13,seed=1"},
	{"Trumpet 2", "Blake", "trumpet_bb", 0, 1, "build=-9,seed=2"},
	{"Trumpet 3", "Casey", "cornet_bb", 0, 2, "build=6,habit=holder,seed=3"},
	{"F Horn 1", "Devon", "horn_double", 1, 0, "build=5,seed=4"},
	{"F Horn 2", "Ellis", "horn_double", 1, 1, "build=-8,seed=5"},
	{"Baritone T.C.", "Frankie", "baritone_us_tc", 1, 2, "build=10,seed=6"},
	{"Euphonium", "Gray", "euphonium_bb_bc", 1, 3, "build=-12,seed=7"},
	{"Trombone 1", "Harper", "tenor_trombone_bbf", 2, 0, "build=9,seed=8"},
	{"Trombone 2", "Indy", "tenor_trombone_bb", 2, 1, "build=-6,seed=9"},
	{"Bass trombone", "Jules", "bass_trombone_bb_2v", 2, 2, "build=3,seed=10"},
	{"Tuba", "Kendall", "tuba_bbb_3v", 2, 3, "build=14,seed=11"},
}

// demoPlayers has one of everything a leader meets on a Monday.
var demoPlayers = []demoPlayer{
	{"Horn 1", "Elif", "horn_f", 0, 0, "build=-9,seed=1"},
	{"Horn 2", "Fenna", "horn_f", 0, 1, "build=0,wrong=concert-name,seed=2"},
	{"Baritone", "Jori", "baritone_bb_tc", 0, 2, "build=0,seed=3"},
	{"Euphonium", "Goran", "euphonium_bb_bc", 0, 3, "build=17,seed=4"},
	{"Trumpet 1", "Ada", "trumpet_bb", 1, 0, "build=13,pinch=9,habit=pincher,seed=5"},
	{"Trumpet 2", "Bram", "trumpet_bb", 1, 1, "build=21,habit=holder,seed=6"},
	{"Trumpet 3", "Celia", "trumpet_bb", 1, 2, "build=-2,seed=7"},
	{"Trombone 1", "Hanno", "tenor_trombone_bbf", 2, 0, "build=8,vibrato=30,seed=8"},
	{"Trombone 2", "Ivo", "tenor_trombone_bbf", 2, 1, "build=2,seed=9"},
	{"Bass trombone", "Juno", "bass_trombone_bb", 2, 2, "build=2,seed=10"},
	{"Tuba 1", "Kees", "tuba_eb", 2, 3, "build=-6,cold=25,seed=11"},
	{"Tuba 2", "Lune", "tuba_bbb", 2, 4, "build=15,seed=12"},
}
