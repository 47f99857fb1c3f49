package slide

import (
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// figures are notes, ways of playing and numbers.
var figures = regexp.MustCompile(`\b([A-G][♭♯]?\d|(F |Bb |B♭ )?side [\d-]+|\w+ position|two|three|four|five|six|seven|eight|nine|[\d-]+)`)

// TestSaid writes down one answer of each form in English: what is meant, and the sentences.
func TestSaid(t *testing.T) {
	w := walker{rand.New(rand.NewPCG(41, 4))}
	said := map[string]string{}
	note := func(a Advice, how string) {
		x := Say(a)
		text := fmt.Sprintf("%s %s%s: %s | %s | %s", a.Kind, a.Code, how, x.Headline, x.Detail, x.Next)
		if form := figures.ReplaceAllString(text, "#"); said[form] == "" {
			said[form] = text + " | " + x.Small
		}
	}
	for _, in := range played(t) {
		for range 600 {
			a := Advise(w.input(in, w.note(in)))
			note(a, "")
			note(a.Again(false), "")
		}
		if len(in.Telling()) == 0 {
			continue
		}
		for range 60 {
			p := w.problem(in, w.cents(12))
			if s, err := Solve(p); err == nil {
				note(s.Advice, " solve")
			}
		}
	}
	for _, ratio := range []float64{-2, -0.5, 0.1, 0.5, 1, 2} {
		for _, ci := range []pitch.Cents{0.5, 12} {
			f := FollowThrough(Made{Expected: -10, Before: heard(70, 10, ci), After: heard(70, pitch.Cents(10-10*ratio), ci)})
			a, _ := f.Answer()
			note(a, fmt.Sprint(" ", f))
		}
	}
	golden.Lines(t, "said.txt", lines(said))
}

func lines(all map[string]string) string {
	var out []string
	for _, s := range all {
		out = append(out, s+"\n")
	}
	slices.Sort(out)
	return strings.Join(out, "")
}

// opposite swaps the words of a way for those of the other way.
var opposite = strings.NewReplacer("sharper", "flatter", "flatter", "sharper", "sharp", "flat", "flat", "sharp", "higher", "lower", "lower", "higher", "above", "below", "below", "above",
	" out ", " in ", " in ", " out ")

// What a leader is told of a section that is sharp is what is told of one as flat, the other way
// round; what is done about it differs, since warmth raises.
func TestLeadersWordsMirror(t *testing.T) {
	for _, x := range []pitch.Cents{6, 12, 25} {
		up, down := AsOne{Off: true, Common: x}, AsOne{Off: true, Common: -x}
		if up.words() != opposite.Replace(down.words()) || up.words() == down.words() {
			t.Errorf("%q and %q", up.words(), down.words())
		}
		for _, beyond := range []int{0, 1, 3} {
			c := Choice{Do: AllMove, MM: 7.4, Beyond: beyond}
			if got, want := c.words(x), strings.Replace(c.words(-x), "Everybody in", "Everybody out", 1); got != want || !strings.Contains(got, "up to 7 mm") {
				t.Errorf("%q and %q", got, want)
			}
			if told := strings.Contains(c.words(x), "cannot go so far"); told != (beyond > 0) {
				t.Errorf("%d slides do not reach: %q", beyond, c.words(x))
			}
		}
	}
	if (AsOne{Common: 12}).words() != "" {
		t.Error("a section that is not off as one is told so")
	}
}

// An offer tells the saving or those who come within reach, in their own number.
func TestOfferWords(t *testing.T) {
	at := func(hz pitch.Hertz) pitch.Reference { return pitch.Reference{A4: hz} }
	for _, c := range []struct {
		o    Offer
		want string
	}{
		{Offer{Reference: at(441), Fixed: true, Changed: true}, "The fixed instrument sets A at 441 Hz."},
		{Offer{Reference: at(440)}, "A at 440 Hz suits this section as well as any."},
		{Offer{Reference: at(438), Changed: true, PresentBeyond: 2, Beyond: 1}, "A at 438 Hz is within reach of one more slide."},
		{Offer{Reference: at(438), Changed: true, PresentBeyond: 14}, "A at 438 Hz is within reach of 14 more slides."},
		{Offer{Reference: at(438), Changed: true, PresentBeyond: 4, Beyond: 1}, "A at 438 Hz is within reach of three more slides."},
		{Offer{Reference: at(442), Changed: true, PresentBeyond: 1, Beyond: 1, MM: 4.4, PresentMM: 21.6}, "A at 442 Hz would need 4 mm of slide in all instead of 22."},
	} {
		if got := c.o.words(); got != c.want {
			t.Errorf("%+v: %q, want %q", c.o, got, c.want)
		}
	}
}

// Each verdict on a move has its sentence, and the way that the pitch went decides between two.
func TestFollowWords(t *testing.T) {
	for _, c := range []struct {
		f    Follow
		want string
	}{
		{Follow{Verdict: Small}, "too small"}, {Follow{Verdict: Held, Ratio: 0.1}, "stayed where it was"}, {Follow{Verdict: Unsure}, "not clear"}, {Follow{Verdict: Partly, Ratio: 0.5}, "part of the way"},
		{Follow{Verdict: TooFar, Ratio: 1.8}, "further than the slide"}, {Follow{Verdict: TooFar, Ratio: -0.8}, "the other way"}, {Follow{Verdict: Went, Ratio: 1}, "went with the slide"},
	} {
		if got := c.f.words(); !strings.Contains(got, c.want) {
			t.Errorf("%+v: %q, want %q", c.f, got, c.want)
		}
	}
	for _, wrong := range []bool{true, false} {
		a := Advice{Kind: Again, Code: "too-far", Facts: Facts{Verdict: TooFar, WrongWay: wrong}}
		if said := strings.Contains(Say(a).Detail, "other way"); said != wrong {
			t.Errorf("wrong way %v: %q", wrong, Say(a).Detail)
		}
	}
}
