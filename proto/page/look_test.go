package page

import (
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// folders hold all that a browser is given.
var folders = []string{"files", "../../hub/web/assets", "../../node/player/assets", "../../cmd/bellrow/start/assets"}

func eachFile(t *testing.T, ext string, do func(path, text string)) {
	t.Helper()
	n := 0
	for _, dir := range folders {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || filepath.Ext(path) != ext {
				return err
			}
			data, err := os.ReadFile(path)
			n++
			do(path, string(data))
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if n == 0 {
		t.Fatalf("no %s files", ext)
	}
}

var colour = regexp.MustCompile(`#([0-9a-fA-F]{6})\b`)

// TestColours: no red and no green anywhere, so that nobody can read a meaning
// into them: each colour is grey or lies between orange and yellow, the hues
// of paper and brass (30 to 60 degrees).
func TestColours(t *testing.T) {
	for _, ext := range []string{".css", ".svg"} {
		eachFile(t, ext, func(path, text string) {
			for _, m := range colour.FindAllStringSubmatch(text, -1) {
				if h, s := hue(m[1]); s > 0.08 && (h < 30 || h > 60) {
					t.Errorf("%s: #%s has the hue %.0f degrees, need 30 to 60", path, m[1], h)
				}
			}
			for _, name := range []string{"red", "green", "lime", "crimson"} {
				if regexp.MustCompile(`:\s*` + name + `\b`).MatchString(text) {
					t.Errorf("%s uses %s", path, name)
				}
			}
		})
	}
	if h, s := hue("c02020"); s < 0.08 || h >= 30 && h <= 60 {
		t.Errorf("a red has hue %.0f and saturation %.2f: the test would let it pass", h, s)
	}
}

// hue returns the hue in degrees and the saturation of an RRGGBB colour (HSV).
func hue(rrggbb string) (degrees, saturation float64) {
	v, _ := strconv.ParseUint(rrggbb, 16, 32)
	r, g, b := float64(v>>16&255), float64(v>>8&255), float64(v&255)
	hi, lo := max(r, g, b), min(r, g, b)
	if hi == lo {
		return 0, 0
	}
	switch d := hi - lo; hi {
	case r:
		degrees = 60 * math.Mod((g-b)/d+6, 6)
	case g:
		degrees = 60 * ((b-r)/d + 2)
	default:
		degrees = 60 * ((r-g)/d + 4)
	}
	return degrees, (hi - lo) / hi
}

// TestStill: nothing moves, fades or blinks, for anybody.
func TestStill(t *testing.T) {
	eachFile(t, ".css", func(path, text string) {
		for _, word := range []string{"animation", "transition", "@keyframes", "blink", "scroll-behavior"} {
			if strings.Contains(text, word) {
				t.Errorf("%s has %q", path, word)
			}
		}
	})
}

// TestOwnHost: no file names another host. XML namespaces are names, not
// addresses.
func TestOwnHost(t *testing.T) {
	address := regexp.MustCompile(`https?://[^\s"'` + "`" + `)]+`)
	for _, ext := range []string{".css", ".js", ".html", ".svg"} {
		eachFile(t, ext, func(path, text string) {
			for _, a := range address.FindAllString(text, -1) {
				if !strings.HasPrefix(a, "http://www.w3.org/") {
					t.Errorf("%s names %s", path, a)
				}
			}
		})
	}
}

// TestNoInline: the policy forbids inline scripts and styles; a page that has
// them would be broken.
func TestNoInline(t *testing.T) {
	eachFile(t, ".html", func(path, text string) {
		if regexp.MustCompile(`<script>|<style|\sstyle=|\son[a-z]+=`).MatchString(text) {
			t.Errorf("%s has inline script or style", path)
		}
		if !strings.Contains(text, `lang="en"`) && !strings.Contains(text, `lang="{{lang}}"`) || !strings.Contains(text, "viewport") {
			t.Errorf("%s lacks its language or viewport", path)
		}
	})
}
