package instrument

import (
	"strings"
	"testing"

	"bellrow/proto/pitch"
)

// otherKey are the entries whose part does not stand in the key of the open tube,
// with what is written where the second harmonic of that tube sounds. All others
// that transpose write it C.
var otherKey = map[ID]string{
	// read as a horn in F on a tube in B flat: a B flat sounds where F is written
	"horn_bb": "F", "horn_bb_bc": "F", "horn_bb_bc_old": "F",
	// the F horn's players read crooks: F sounds where a horn in E flat has D, one in D has E flat
	"horn_double_eb": "D", "horn_f_eb": "D", "horn_bb_eb": "G", "horn_double_d": "Eb", "horn_f_d": "Eb", "horn_bb_d": "Ab",
	// an E flat tube read from parts in F
	"tenor_horn_eb_f": "Bb",
}

// TestOpenTubeIsWrittenC: a part in the key of its tube calls the open tube's
// harmonics by one name, C; that is what the key of a part means (any orchestration
// handbook; arithmetic from the fundamental, with no list of transpositions). In
// treble clef the second one is middle C, as a trumpet's, whatever the size: brass
// band and marching practice, from memory; horns and Wagner tubas write it an octave lower.
func TestOpenTubeIsWrittenC(t *testing.T) {
	seen := map[string]int{}
	for _, in := range Catalogue() {
		if in.Transposition%12 == 0 {
			seen["concert"]++
			continue // concert pitch, or octaves of it
		}
		second, off := pitch.Reference{}.Nearest(2 * in.Fundamental)
		if off > 60 || off < -60 {
			t.Errorf("%s: its open tube is %.0f cents from a note", in.ID, float64(off))
		}
		want := otherKey[in.ID]
		if want == "" {
			want = "C"
		}
		written := in.Written(second)
		name, err := pitch.ParseName(want)
		if err != nil || written.Class() != name.Class() {
			t.Errorf("%s: the second harmonic %v is written %v, want %s", in.ID, second, written, want)
		}
		seen[want]++
		if want != "C" || in.Clef != "treble" {
			continue
		}
		octave := pitch.C4
		if id := string(in.ID); strings.HasPrefix(id, "horn_") || strings.HasPrefix(id, "wagner_") {
			octave = pitch.C4 - 12
		}
		if written != octave {
			t.Errorf("%s: the second harmonic %v is written %v, want %v", in.ID, second, written, octave)
		}
	}
	if seen["C"] < 20 || seen["concert"] < 20 {
		t.Errorf("looked at %v", seen)
	}
}

// TestOldBassClefOfHorns: old notation writes a bass-clef horn part an octave lower
// than new notation does, so that it sounds a fourth higher instead of a fifth lower
// (W. Piston, Orchestration, 1955, the horn; from memory): five and seven semitones
// make an octave.
func TestOldBassClefOfHorns(t *testing.T) {
	for _, id := range []ID{"horn_double", "horn_f", "horn_bb"} {
		now, old := find(t, id+"_bc"), find(t, id+"_bc_old")
		for n := now.Low; n <= now.High; n++ {
			if now.Written(n)-old.Written(n) != 12 || old.Written(n) != n-5 || now.Written(n) != n+7 {
				t.Errorf("%s: %v is written %v in new and %v in old notation", id, n, now.Written(n), old.Written(n))
			}
		}
	}
}
