package main

import (
	"encoding/xml"
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"bellrow/node/listen"
	"bellrow/testdata/smalldisk"
)

// drawn reads an SVG with a parser that is not ours and returns its texts and
// its elements' classes with their attributes.
func drawn(t *testing.T, path string) (texts []string, shapes map[string][]map[string]string) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	shapes = map[string][]map[string]string{}
	d := xml.NewDecoder(f)
	inText := false
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return texts, shapes
		}
		if err != nil {
			t.Fatalf("%s is no XML: %v", path, err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			inText = e.Name.Local == "text"
			a := map[string]string{}
			for _, x := range e.Attr {
				a[x.Name.Local] = x.Value
			}
			shapes[a["class"]] = append(shapes[a["class"]], a)
		case xml.CharData:
			if inText {
				texts = append(texts, string(e))
			}
		case xml.EndElement:
			inText = false
		}
	}
}

// gliding is a note that rises by 120 cents a second, between two quarters of
// a second of silence.
func gliding(rate, seconds float64) []float64 {
	x := make([]float64, int(rate/2+seconds*rate))
	phase := 0.0
	for i := range int(seconds * rate) {
		t := float64(i) / rate
		phase += 2 * math.Pi * 174.6 * math.Exp2(t/10) / rate
		for k := 1.0; k <= 8; k++ {
			x[int(rate/4)+i] += 0.2 / k * min(1, t/0.03, (seconds-t)/0.03) * math.Sin(k*phase)
		}
	}
	return x
}

func pixels(t *testing.T, a map[string]string, key string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(a[key], 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestPicture: one panel for each note, one below the other; what is drawn
// lies where the reading says.
func TestPicture(t *testing.T) {
	dir := t.TempDir()
	out := filepath.Join(dir, "notes.svg")
	two := writeWAV(t, "two & <three>.wav", append(held(233.0818808, 48000, 2), gliding(48000, 2)...), 48000)
	silent := writeWAV(t, "silent.wav", make([]float64, 48000), 48000)
	code, printed, errs := trial(t, "read", "--json", "--picture", out, two, silent)
	got := lines(t, printed)
	if code != exitFailed || len(got) != 2 || !got[0].Settled || got[1].Settled {
		t.Fatalf("status %d, readings %+v, stderr %q", code, got, errs)
	}
	texts, shapes := drawn(t, out)
	all := strings.Join(texts, "\n")
	for _, want := range []string{"two & <three>.wav", "B♭3, in tune, give or take 0.1", "not read: the pitch was still moving", "silent.wav: the file is silent"} {
		if !strings.Contains(all, want) {
			t.Errorf("no %q in %q", want, all)
		}
	}
	if len(shapes["stretch"]) != 2 || len(shapes["track"]) != 2 || len(shapes["level"]) != 3 || len(shapes["centre"]) != 1 {
		t.Fatalf("%d stretches, %d tracks, %d levels, %d centres; want 2, 2, 3, 1",
			len(shapes["stretch"]), len(shapes["track"]), len(shapes["level"]), len(shapes["centre"]))
	}
	a, b := shapes["stretch"][0], shapes["stretch"][1]
	if pixels(t, b, "y") <= pixels(t, a, "y")+pixels(t, a, "height") {
		t.Error("the second note is not below the first")
	}
	const scale = (right - left) / 5 // px per second, were the whole file in one panel
	if w := pixels(t, a, "width"); w < scale*(got[0].EndS-got[0].StartS) {
		t.Errorf("the stretch is %.0f px wide for %.2f s", w, got[0].EndS-got[0].StartS)
	}
	c := shapes["centre"][0]
	for _, z := range shapes["zero"] {
		if z["x1"] == "88" && pixels(t, z, "y1") > pixels(t, a, "y") && pixels(t, z, "y1") < pixels(t, a, "y")+pixels(t, a, "height") {
			if d := pixels(t, c, "y1") - pixels(t, z, "y1"); d < -2 || d > 2 {
				t.Errorf("the centre of a note in tune lies %.1f px from the note's own line", d)
			}
		}
	}
}

// TestPictureColours: the colours of the pages, and no others.
func TestPictureColours(t *testing.T) {
	look, err := os.ReadFile("../../proto/page/files/look.css")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range regexp.MustCompile(`#[0-9a-f]{6}`).FindAllString(style, -1) {
		if !strings.Contains(string(look), c) {
			t.Errorf("%s is not a colour of the pages", c)
		}
	}
}

func TestPictureLeavesFilesAlone(t *testing.T) {
	note := writeWAV(t, "note.wav", held(233.08, 48000, 2), 48000)
	dir := t.TempDir()
	taken := filepath.Join(dir, "taken.svg")
	if err := os.WriteFile(taken, []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name string
		args []string
		code int
		says string
	}{
		{"there already", []string{"--picture", taken, note}, exitFailed, "taken.svg is there already and is left as it is"},
		{"a recording", []string{"--force", "--picture", note, note}, exitUsage, "ends in .svg"},
		{"no folder", []string{"--picture", filepath.Join(dir, "no", "a.svg"), note}, exitFailed, "the picture cannot be written"},
		{"with --whole", []string{"--whole", "--picture", filepath.Join(dir, "w.svg"), note}, exitUsage, "--whole does not"},
		{"nothing to draw", []string{"--picture", filepath.Join(dir, "n.svg"), filepath.Join(dir, "absent.wav")}, exitFailed, "absent.wav"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			before, err := os.ReadFile(note)
			if err != nil {
				t.Fatal(err)
			}
			code, _, errs := trial(t, append([]string{"read"}, tt.args...)...)
			if code != tt.code || !strings.Contains(errs, tt.says) || strings.Count(errs, "\n") > 2 {
				t.Errorf("status %d, stderr %q; want %d and %q", code, errs, tt.code, tt.says)
			}
			if data, _ := os.ReadFile(taken); string(data) != "mine" {
				t.Error("the file that was there has changed")
			}
			if after, err := os.ReadFile(note); err != nil || string(after) != string(before) {
				t.Error("the recording has changed")
			}
			if names, _ := filepath.Glob(filepath.Join(dir, "*")); len(names) != 1 {
				t.Errorf("files left behind: %v", names)
			}
		})
	}
	if code, _, errs := trial(t, "read", "--picture", taken, "--force", note); code != exitOK {
		t.Errorf("--force: status %d, %q", code, errs)
	}
	drawn(t, taken)
}

// TestPictureOnAFullDisk: said, and nothing is left of it.
func TestPictureOnAFullDisk(t *testing.T) {
	note := writeWAV(t, "note.wav", held(233.08, 48000, 2), 48000)
	disk := smalldisk.New(t, 64)
	disk.Fill(t)
	code, out, errs := trial(t, "read", "--picture", filepath.Join(disk.Dir, "note.svg"), note)
	if code != exitFailed || !strings.Contains(out, "B♭3") || !strings.Contains(errs, "the picture cannot be written") {
		t.Errorf("status %d, stdout %q, stderr %q", code, out, errs)
	}
	if names, _ := filepath.Glob(filepath.Join(disk.Dir, "*note*")); len(names) != 0 {
		t.Errorf("left behind: %v", names)
	}
}

// TestRefusalsHaveWords: every reason of the listener is a clause here.
func TestRefusalsHaveWords(t *testing.T) {
	source, err := fs.ReadFile(os.DirFS("../../node/listen"), "listen.go")
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile(`Reason = "([a-z-]+)"`).FindAllStringSubmatch(string(source), -1)
	if len(found) < 5 {
		t.Fatalf("%d reasons found in node/listen", len(found))
	}
	for _, m := range found {
		if refusals[listen.Reason(m[1])][0] == "" {
			t.Errorf("no words for %q", m[1])
		}
	}
}
