package instrument

import (
	"fmt"
	"strings"
	"testing"

	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// TestWalk writes down what the catalogue says of some instruments, one of each build, and what
// follows for their notes: ways to play them, tendencies, doubts, slides.
func TestWalk(t *testing.T) {
	var out strings.Builder
	for _, id := range []ID{"piccolo_trumpet_bb", "soprano_cornet_eb", "trumpet_bb", "cornet_bb", "flugelhorn_bb", "horn_f", "horn_bb", "horn_double", "tenor_horn_eb", "alto_trombone_eb", "tenor_trombone_bb", "tenor_trombone_bbf", "bass_trombone_bb",
		"bass_trombone_bb_2v", "baritone_bb_tc", "euphonium_bb_4v", "euphonium_bb_tc", "tuba_f", "tuba_eb", "tuba_cc", "tuba_bbb", "sousaphone_bb"} {
		in, err := Find(id)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&out, "%s %q %s %s %d fundamental %.5f tube %g valves %d from %v to %v middle %v\n", in.ID, in.Name, in.Family, in.Clef, in.Transposition, float64(in.Fundamental), in.TubeM, in.Valves, in.Low, in.High, in.Middle)
		for _, s := range in.Slides {
			lo, hi := s.Reach()
			fmt.Fprintf(&out, "  %s %q travel %g usual %g legs %d playing %t reach %g %g\n", s.ID, s.Name, s.TravelMM, in.MM(nil, s.ID), s.Legs, s.WhilePlaying, lo, hi)
		}
		fmt.Fprintf(&out, "  tells %v\n", in.Telling())
		for _, concert := range []pitch.Note{58, 65, 69, 72} {
			n, way, tells := in.TuningWay(concert)
			fmt.Fprintf(&out, "  for %v: %v %v tells %t, else %v\n", concert, n, way, tells, in.TuningNote(concert))
		}
		for n := in.Low; n <= in.High; n += 2 {
			fmt.Fprintf(&out, "  %v written %v:", n, in.Written(n))
			for i, p := range in.Paths(n) {
				if i == 3 {
					break
				}
				th := in.Theory(p)
				fmt.Fprintf(&out, " | %v of %d tends %.4f theory %.4f %.4f doubt %.4f %.4f hz %.5f tells %t", p, p.Partial, float64(in.Tendency(p)), float64(th.Partial), float64(th.Valves), th.PartialDoubt(), in.ValveDoubt(p), float64(in.Pitch(p, nil, Air{})), in.Tells(p))
				for _, s := range in.Slides {
					if in.Serves(s.ID, p) {
						fmt.Fprintf(&out, " %s %.5f", s.ID, float64(in.CentsPerMM(p, s.ID, nil)))
					}
				}
			}
			out.WriteString("\n")
		}
	}
	for _, text := range []string{"open", "0", "1", "12", "1-2", "F 1-2", "T 2", "T", "B 12", "3", "3.5", "7", "8", "V3", "b3", "F3", "T1", "x", "1-1", "4-1", "", "F", "2-F-3"} {
		p, err := ParsePath(text)
		fmt.Fprintf(&out, "path %q: %v %+v %v\n", text, p, p, err)
	}
	for _, text := range []string{"trumpet", "horn", "Posaune", "tuba_bb", "tuba", "euphoniun", "kazoo", ""} {
		_, err := Find(ID(text))
		fmt.Fprintf(&out, "find %q: %v\n", text, err)
	}
	for _, room := range []string{"21", "70 F", "21 C", "-5", "60", "x", "300"} {
		c, err := ParseRoom(room)
		fmt.Fprintf(&out, "room %q: %.4f %v", room, c, err)
		if e, err := EveningAt(c); err == nil {
			a, low, high := e.A4(pitch.Reference{})
			fmt.Fprintf(&out, " %.4f %.4f %.4f A %.4f %.4f %.4f beyond %t", float64(e.Expected), float64(e.Low), float64(e.High), float64(a), float64(low), float64(high), e.Beyond)
		}
		out.WriteString("\n")
	}
	golden.Lines(t, "walk.txt", out.String())
}
