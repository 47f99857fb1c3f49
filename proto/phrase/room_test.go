package phrase

import (
	"fmt"
	"strings"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// TestRoom against fixed points of both scales: water freezes at 0 °C and 32 °F,
// and -40 is the same (definition of the scales); 20 °C are 68 °F.
func TestRoom(t *testing.T) {
	for _, c := range []struct {
		c        float64
		here, us string
	}{{0, "0 °C", "32 °F"}, {-40, "-40 °C", "-40 °F"}, {20, "20 °C", "68 °F"}, {30, "30 °C", "86 °F"}, {-0.2, "0 °C", "32 °F"}} {
		for _, l := range Languages {
			want := c.here
			if l.Tag == "en-US" {
				want = c.us
			}
			if got := (Tongue{voice: voices[l.Tag]()}).Room(c.c); got != want {
				t.Errorf("%g °C is %q in %s, want %q", c.c, got, l.Tag, want)
			}
		}
	}
}

// TestEvening: in every language the room, A and the source are said, one unit alone.
func TestEvening(t *testing.T) {
	for _, l := range Languages {
		tongue := Tongue{voice: voices[l.Tag]()}
		for _, c := range []float64{0, 12, 19.9, 20, 26, 36} {
			e, err := instrument.EveningAt(c)
			if err != nil {
				t.Fatal(err)
			}
			a, _, _ := e.A4(pitch.Reference{})
			said := tongue.Evening(e)
			for _, want := range []string{tongue.Room(c), tongue.Room(20), fmt.Sprintf("%.0f Hz", float64(a)), "Cramer 1993"} {
				if !strings.Contains(said, want) {
					t.Errorf("%s, %g °C: no %q in %q", l.Tag, c, want, said)
				}
			}
			if strings.Contains(said, "°C") == tongue.Fahrenheit() || strings.Contains(said, "°F") != tongue.Fahrenheit() || strings.Contains(said, "%!") {
				t.Errorf("%s, %g °C: %q", l.Tag, c, said)
			}
		}
	}
}

// A warm room is as much higher as a cold one is lower; at 20 °C there is nothing to foretell.
func TestEveningInEnglish(t *testing.T) {
	say := func(c float64) string {
		e, err := instrument.EveningAt(c)
		if err != nil {
			t.Fatal(err)
		}
		return Tongue{}.Evening(e)
	}
	// 2 cents for each of 6 °C, from 1 to 3: 440 · 2^(12/1200) = 443.1 Hz, 440 / 2^(12/1200) = 437.0.
	for c, want := range map[float64]string{
		26: "In a room of 26 °C a section that has warmed up will stand about 12 cents higher than at 20 °C, somewhere from 6 to 18: A near 443 Hz with the slides where they usually are.",
		14: "In a room of 14 °C a section that has warmed up will stand about 12 cents lower than at 20 °C, somewhere from 6 to 18: A near 437 Hz with the slides where they usually are.",
		20: "In a room of 20 °C a section that has warmed up will stand where it does at 20 °C: A near 440 Hz with the slides where they usually are.",
	} {
		got := say(c)
		if !strings.HasPrefix(got, want+" That is theory: the air alone does 3 cents for each °C") || !strings.HasSuffix(got, " Choose A, warm up, and listen before a slide moves.") {
			t.Errorf("%g °C: %q", c, got)
		}
		if strings.Contains(got, "beyond") {
			t.Errorf("%g °C: %q", c, got)
		}
	}
	if got := say(34); !strings.Contains(got, "beyond what the formula was checked for") { // Cramer: 0 to 30 °C
		t.Errorf("34 °C: %q", got)
	}
}
