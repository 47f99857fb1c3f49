package golden

import (
	"strings"
	"testing"
)

func TestAlike(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"out 1.234567 mm", "out 1.234568 mm", true}, {"out 1.2345 mm", "out 1.2346 mm", false}, {"out 1", "in 1", false},
		{"1 2", "1", false}, {"NaN x", "NaN x", true}, {"NaN", "1", false}, {"+Inf", "1", false}, {"1", "+Inf", false}, {"-Inf", "+Inf", false}, {"[+Inf", "[+Inf", true}, {"123456789.0", "123456790.0", true},
	} {
		if alike(c.a, c.b) != c.want {
			t.Errorf("%q and %q: alike %v", c.a, c.b, !c.want)
		}
	}
}

// TestDigest: any other word and any other number is seen, and the order of lines is not.
func TestDigest(t *testing.T) {
	const text = "chord C major 1.5\nchord D minor -2\nbeat 3 (4) once\n"
	is := Digest(text)
	if is != Digest("chord D minor -2\nbeat 3 (4) once\nchord C major 1.5") {
		t.Error("the order of lines is seen")
	}
	for was, other := range map[string]string{"major": "minor", "C": "E", "1.5": "-1.5", "-2": "-2.1", "(4)": "(5)", "once": "twice", "beat": "beats", "\nbeat": "\nbeat 1 (4) once\nbeat"} {
		if Digest(strings.Replace(text, was, other, 1)) == is {
			t.Errorf("%q for %q is not seen in\n%s", other, was, is)
		}
	}
	if strings.Count(is, "\n") != 2 {
		t.Errorf("got\n%s", is)
	}
}
