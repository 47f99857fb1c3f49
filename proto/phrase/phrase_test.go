package phrase

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

var figure = regexp.MustCompile(`%(?:\[(\d+)\])?[-+# 0]*[\d.]*(.)`)

// forms are the forms of a text.
func forms(text any) []string {
	if c, ok := text.(counted); ok {
		return []string{c.one, c.other}
	}
	return []string{text.(string)}
}

// figures are the figures that a form takes, sorted: "1d 2s".
func figures(form string) []string {
	var all []string
	for _, m := range figure.FindAllStringSubmatch(form, -1) {
		all = append(all, m[1]+m[2])
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// TestFigures: a text takes the figures that its English one takes, each by its
// number; only the one that it counts by may be left out, or be written out.
func TestFigures(t *testing.T) {
	for _, l := range Languages {
		for key, text := range l.texts {
			of, known := english[key]
			if !known && strings.HasPrefix(key, "instrument.") {
				continue // see TestInstruments
			}
			if !known {
				t.Errorf("%s: %s is no key of the English texts", l.Tag, key)
				continue
			}
			free := func(string) bool { return false }
			if c, ok := of.(counted); ok {
				inWords := !strings.Contains(c.other, fmt.Sprintf("%%[%d]", c.arg)) // the figure after it is its word
				free = func(s string) bool {
					return strings.HasPrefix(s, strconv.Itoa(c.arg)) || inWords && strings.HasPrefix(s, strconv.Itoa(c.arg+1))
				}
			} else if _, counts := text.(counted); counts {
				t.Errorf("%s: %s counts, and its English text does not: no number is handed in", l.Tag, key)
			}
			other := forms(of)
			need := slices.DeleteFunc(figures(other[len(other)-1]), free)
			for _, form := range forms(text) {
				if got := slices.DeleteFunc(figures(form), free); !slices.Equal(got, need) {
					t.Errorf("%s: %s takes %v, need %v: %q", l.Tag, key, got, need, form)
				}
				if n := strings.Count(other[0], "|"); strings.Count(form, "|") != n {
					t.Errorf("%s: %s lists %d, need %d", l.Tag, key, strings.Count(form, "|")+1, n+1)
				}
				if got, need := marks(form), marks(other[0]); got != need {
					t.Errorf("%s: %s is marked %s, need %s", l.Tag, key, got, need)
				}
				if strings.TrimSpace(form) != form || form == "" || strings.Contains(form, "  ") || strings.ContainsAny(form, "'\"") {
					t.Errorf("%s: %s is not set as type: %q", l.Tag, key, form)
				}
				if end := lastRune(form); !strings.HasPrefix(key, "number.") && strings.ContainsRune(".?!:…", end) != strings.ContainsRune(".?!:…", lastRune(other[0])) {
					t.Errorf("%s: %s ends otherwise than %q: %q", l.Tag, key, other[0], form)
				}
			}
		}
	}
}

// marks are the marks in a form, sorted: "</b> <b>".
func marks(form string) string {
	all := regexp.MustCompile(`</?[a-z]+>`).FindAllString(form, -1)
	slices.Sort(all)
	return strings.Join(all, " ")
}

func lastRune(s string) rune { r := []rune(s); return r[len(r)-1] }

// TestOfferedWhole: a page is offered in a language once all of its texts are there.
func TestOfferedWhole(t *testing.T) {
	for name, page := range map[string]*Page{"player": Player, "leader": Leader, "report": Report, "start": Start, "door": Door, "get": Get} {
		for _, l := range Languages {
			lacks := page.lacks(l)
			if offered := slices.ContainsFunc(page.Offered(), func(o Language) bool { return o.Tag == l.Tag }); offered != (len(lacks) == 0) {
				t.Errorf("%s: %s lacks %v and is offered: %v", name, l.Tag, lacks, offered)
			}
			if n := len(lacks); n > 0 && n < 40 {
				t.Errorf("%s: %s lacks %v", name, l.Tag, lacks)
			}
		}
	}
	if got := Player.Match("nl, en-US;q=0.8"); got != "en-US" {
		t.Errorf("a Dutch browser that takes American gets %q", got)
	}
	if got := Player.Match("zh"); got != "" {
		t.Errorf("a Chinese browser gets %q", got)
	}
}

// TestKeys: every text is used, and every key that is used has a text. Keys are
// found as the strings of the sources that begin with the name of an area.
func TestKeys(t *testing.T) {
	areas := map[string]bool{}
	for key := range english {
		area, _, _ := strings.Cut(key, ".")
		areas[area] = true
	}
	used := map[string]string{} // a key, or the beginning of some, and where
	note := func(where, s string) {
		area, rest, dotted := strings.Cut(s, ".")
		if dotted && areas[area] && (rest == "" || !strings.ContainsAny(rest, " /")) && !strings.HasSuffix(s, ".js") && !strings.HasSuffix(s, ".html") && !strings.HasSuffix(s, ".css") {
			used[s] = where
		}
	}
	quoted := regexp.MustCompile("[\"'`]([a-z-]+\\.[\\w.-]*)[\"'`]")
	for _, root := range []string{"../../hub", "../../node", "../../cmd/bellrow", "../page", "."} {
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			switch {
			case err != nil || d.IsDir() || strings.HasSuffix(path, "_test.go"):
			case strings.HasSuffix(path, ".go") && !slices.Contains([]string{"english.go", "american.go", "german.go", "french.go", "spanish.go"}, path):
				file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
				if err != nil {
					return err
				}
				ast.Inspect(file, func(n ast.Node) bool {
					if l, ok := n.(*ast.BasicLit); ok && l.Kind == token.STRING {
						if s, err := strconv.Unquote(l.Value); err == nil {
							note(path, s)
						}
					}
					return true
				})
			case (strings.HasSuffix(path, ".js") || strings.HasSuffix(path, ".html")):
				data, err := os.ReadFile(path)
				if err != nil {
					return err
				}
				for _, m := range quoted.FindAllStringSubmatch(string(data), -1) {
					note(path, m[1])
				}
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, key := range slices.Sorted(maps.Keys(english)) {
		if !slices.ContainsFunc(slices.Collect(maps.Keys(used)), func(s string) bool {
			return s == key || strings.HasPrefix(key, strings.TrimSuffix(s, ".")+".") || s+"s" == key
		}) {
			t.Errorf("nobody says %s", key)
		}
	}
	for s, where := range used {
		if !slices.ContainsFunc(slices.Collect(maps.Keys(english)), func(key string) bool {
			return s == key || strings.HasPrefix(key, strings.TrimSuffix(s, ".")+".")
		}) {
			t.Errorf("%s says %q, which has no text", where, s)
		}
	}
}

// TestThings: every slide of the catalogue has its name in every language, and
// every way of playing a note is written out.
func TestThings(t *testing.T) {
	for _, l := range Languages {
		tongue := Tongue{voice: voices[l.Tag]()}
		for _, in := range instrument.Catalogue() {
			for _, s := range in.Slides {
				if !tongue.Has("slide." + s.Name) {
					t.Errorf("%s: %s of %s has no name", l.Tag, s.Name, in.ID)
				}
			}
			for n := in.Low; n <= in.High; n++ {
				for _, p := range in.Paths(n) {
					got := tongue.Path(p)
					if strings.ContainsAny(got, "%[") || strings.Contains(got, "path.") || got == "" {
						t.Fatalf("%s: %+v is written %q", l.Tag, p, got)
					}
					if l.Tag == "en-GB" && got != p.String() {
						t.Errorf("%+v is written %q, need %q", p, got, p)
					}
				}
			}
		}
	}
}

// TestEnglishQuantities: as proto/pitch says them in English.
func TestEnglishQuantities(t *testing.T) {
	var e Tongue
	for x := pitch.Cents(-60); x <= 60; x += 0.25 {
		if got, need := e.Cents(x), x.Size(); got != need {
			t.Errorf("%g is %q, need %q", float64(x), got, need)
		}
		if got, need := e.Off(x), x.Off(); got != need {
			t.Errorf("%g is %q, need %q", float64(x), got, need)
		}
	}
}

// TestInstruments: the terms of the instruments' names are named in every
// language, and no others.
func TestInstruments(t *testing.T) {
	terms := map[string]bool{}
	for _, in := range instrument.Band() {
		for _, s := range term.FindAllString(in.Name, -1) {
			terms["instrument."+s] = true
		}
	}
	for _, l := range Languages {
		if strings.HasPrefix(l.Tag, "en") || len(Player.lacks(l)) > 0 {
			continue
		}
		for _, s := range slices.Sorted(maps.Keys(terms)) {
			if _, named := l.texts[s]; !named {
				t.Errorf("%s: %s has no name", l.Tag, s)
			}
		}
		for key := range l.texts {
			if strings.HasPrefix(key, "instrument.") && !terms[key] {
				t.Errorf("%s: nothing is called %q", l.Tag, key)
			}
		}
	}
}
