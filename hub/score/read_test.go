package score_test

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
	"unicode/utf16"

	"bellrow/hub/score"
)

// doc wraps bars of one B flat trumpet part.
func doc(bars string) string {
	return `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">
<score-partwise version="4.0"><work><work-title>Harbour Study</work-title></work>
<part-list><score-part id="P1"><part-name>Trumpet 1</part-name></score-part></part-list>
<part id="P1">` + bars + `</part></score-partwise>`
}

const attributes = `<attributes><divisions>2</divisions><transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>`

func noteXML(step string, octave, duration int, rest string) string {
	return fmt.Sprintf(`<note><pitch><step>%s</step><octave>%d</octave></pitch><duration>%d</duration>%s</note>`, step, octave, duration, rest)
}

// list writes the notes of the first part: "bar start length pitch".
func list(s *score.Score) string {
	var out []string
	for _, n := range s.Parts[0].Notes {
		out = append(out, fmt.Sprintf("%s+%g %g %s", s.Bars[n.Bar].Number, (n.Start-s.Bars[n.Bar].Start).Quarters(), n.Length.Quarters(), n.Pitch))
	}
	return strings.Join(out, "; ")
}

func TestReadNotes(t *testing.T) {
	tests := []struct {
		name, bars, want string
	}{
		{"transposed", `<measure number="1">` + attributes + noteXML("C", 5, 8, "") + `</measure>`, "1+0 4 Bb4"},
		{"octave change", `<measure number="1"><attributes><divisions>1</divisions><transpose><chromatic>-2</chromatic><octave-change>-1</octave-change></transpose></attributes>` + noteXML("C", 5, 4, "") + `</measure>`, "1+0 4 Bb3"},
		{"chord and rest", `<measure number="1">` + attributes + noteXML("D", 4, 4, "") + strings.Replace(noteXML("A", 4, 4, ""), "<pitch>", "<chord/><pitch>", 1) + `<note><rest/><duration>2</duration></note>` + noteXML("E", 4, 2, "") + `</measure>`, "1+0 2 C4; 1+0 2 G4; 1+3 1 D4"},
		{"two voices by backup", `<measure number="1">` + attributes + noteXML("C", 5, 8, "<voice>1</voice>") + `<backup><duration>8</duration></backup>` + `<forward><duration>4</duration></forward>` + noteXML("E", 4, 4, "<voice>2</voice>") + `</measure>`, "1+0 4 Bb4; 1+2 2 D4"},
		{"divisions change within the bar", `<measure number="1">` + attributes + noteXML("C", 5, 2, "") + `<attributes><divisions>6</divisions></attributes>` + noteXML("D", 5, 2, "") + noteXML("E", 5, 4, "") + `</measure>`, "1+0 1 Bb4; 1+1 0.3333333333333333 C5; 1+1.3333333333333333 0.6666666666666666 D5"},
		{"tied over the bar line", `<measure number="1">` + attributes + noteXML("C", 5, 8, `<tie type="start"/>`) + `</measure><measure number="2">` + noteXML("C", 5, 4, `<tie type="stop"/><tie type="start"/>`) + noteXML("C", 5, 2, `<tie type="stop"/>`) + noteXML("C", 5, 2, "") + `</measure>`, "1+0 7 Bb4; 2+3 1 Bb4"},
		{"tie that is only drawn", `<measure number="1">` + attributes + noteXML("C", 5, 4, `<notations><tied type="start"/></notations>`) + noteXML("C", 5, 4, `<notations><tied type="stop"/></notations>`) + `</measure>`, "1+0 4 Bb4"},
		{"a slur is no tie", `<measure number="1">` + attributes + noteXML("C", 5, 4, `<notations><slur type="start"/></notations>`) + noteXML("C", 5, 4, `<notations><slur type="stop"/></notations>`) + `</measure>`, "1+0 2 Bb4; 1+2 2 Bb4"},
		{"grace, cue and unpitched left out", `<measure number="1">` + attributes + strings.Replace(noteXML("F", 5, 0, ""), "<pitch>", "<grace/><pitch>", 1) + strings.Replace(noteXML("G", 5, 2, ""), "<pitch>", "<cue/><pitch>", 1) + `<note><unpitched/><duration>2</duration></note>` + noteXML("C", 5, 4, "") + `</measure>`, "1+2 2 Bb4"},
		{"notes that are not printed", `<measure number="1">` + attributes + strings.Replace(noteXML("F", 5, 4, ""), "<note>", `<note print-object="no">`, 1) + noteXML("C", 5, 4, "") + `</measure>`, "1+2 2 Bb4"},
		{"tied over a bar that another part fills further", `<measure number="1">` + attributes + noteXML("C", 5, 4, `<tie type="start"/>`) + `</measure><measure number="2">` + noteXML("C", 5, 8, `<tie type="stop"/>`) + `</measure></part><part id="P2"><measure>` + attributes + noteXML("C", 3, 8, "") + `</measure>`, "1+0 8 Bb4"},
		{"a tie that meets nothing", `<measure number="1">` + attributes + noteXML("C", 5, 2, `<tie type="start"/>`) + `<note><rest/><duration>2</duration></note>` + noteXML("C", 5, 4, `<tie type="stop"/>`) + `</measure>`, "1+0 1 Bb4; 1+2 2 Bb4"},
		{"two staves, one transposed", `<measure number="1"><attributes><divisions>1</divisions><transpose number="2"><chromatic>-12</chromatic></transpose></attributes>` + noteXML("C", 5, 4, "<staff>1</staff>") + `<backup><duration>4</duration></backup>` + noteXML("E", 5, 4, "<staff>2</staff>") + `</measure>`, "1+0 4 E4; 1+0 4 C5"},
		{"transposition that changes", `<measure number="1">` + attributes + noteXML("C", 5, 4, "") + `<attributes><transpose><chromatic>3</chromatic></transpose></attributes>` + noteXML("C", 5, 4, "") + `</measure>`, "1+0 2 Bb4; 1+2 2 Eb5"},
		{"backup past the bar line stops there", `<measure number="1">` + attributes + noteXML("C", 5, 4, "") + `<backup><duration>99</duration></backup>` + noteXML("E", 5, 4, "") + `</measure>`, "1+0 2 Bb4; 1+0 2 D5"},
		{"accidentals", `<measure number="1"><attributes><divisions>1</divisions></attributes><note><pitch><step>B</step><alter>-1</alter><octave>3</octave></pitch><duration>1</duration></note><note><pitch><step>C</step><alter>-1</alter><octave>4</octave></pitch><duration>1</duration></note></measure>`, "1+0 1 Bb3; 1+1 1 B3"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, err := score.Read(strings.NewReader(doc(tt.bars)))
			if err != nil {
				t.Fatal(err)
			}
			if got := list(s); got != tt.want {
				t.Errorf("got  %s\nwant %s", got, tt.want)
			}
			if s.Title != "Harbour Study" || s.Parts[0].Name != "Trumpet 1" {
				t.Errorf("title %q, part %q", s.Title, s.Parts[0].Name)
			}
		})
	}
}

func TestReadNotesRepeats(t *testing.T) {
	s, err := score.Read(strings.NewReader(doc(`<measure number="1"><barline location="left"><repeat direction="forward"/></barline>` + attributes + noteXML("C", 5, 8, "") +
		`<barline><ending number="1" type="start"/><repeat direction="backward"/></barline></measure><measure number="2">` + noteXML("C", 5, 8, "") + `<direction><direction-type><segno/></direction-type><sound tocoda="x"/></direction><sound dacapo="yes"/></measure>`)))
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(s.Bars[0].Signs, ", "); got != "repeat from here, ending 1, repeat" {
		t.Errorf("bar 1 has %q", got)
	}
	if got := strings.Join(s.Bars[1].Signs, ", "); got != "segno, to coda, da capo" {
		t.Errorf("bar 2 has %q", got)
	}
	if len(s.Remarks) != 1 {
		t.Errorf("remarks %q, want the one on repeats", s.Remarks)
	}
}

func TestReadTimewise(t *testing.T) {
	text := `<score-timewise><part-list><score-part id="A"><part-name>Horn</part-name></score-part><score-part id="B"><part-name>Tuba</part-name></score-part></part-list>
<measure number="1"><part id="A"><attributes><divisions>1</divisions><transpose><chromatic>-7</chromatic></transpose></attributes>` + noteXML("C", 5, 4, "") + `</part><part id="B">` + noteXML("F", 2, 4, "") + `</part></measure>
<measure number="2"><part id="A">` + noteXML("G", 4, 4, "") + `</part><part id="B">` + noteXML("C", 2, 4, "") + `</part></measure></score-timewise>`
	s, err := score.Read(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if got := list(s); got != "1+0 4 F4; 2+0 4 C4" {
		t.Errorf("horn %s", got)
	}
	if n := s.Parts[1].Notes; len(n) != 2 || n[1].Start.Quarters() != 4 {
		t.Errorf("tuba %+v", n)
	}
}

func utf16Bytes(s string, order binary.ByteOrder) []byte {
	var b bytes.Buffer
	for _, u := range utf16.Encode([]rune("\ufeff" + s)) {
		_ = binary.Write(&b, order, u) // a bytes.Buffer takes everything
	}
	return b.Bytes()
}

func TestReadEncodings(t *testing.T) {
	plain := doc(`<measure number="1">` + attributes + noteXML("C", 5, 8, "") + `</measure>`)
	plain = strings.Replace(plain, "Trumpet 1", "Flügelhorn", 1)
	latin := strings.Replace(strings.Replace(plain, `encoding="UTF-8"`, `encoding="ISO-8859-1"`, 1), "ü", "\xfc", 1)
	declared := strings.Replace(plain, `encoding="UTF-8"`, `encoding="UTF-16"`, 1)
	for name, data := range map[string][]byte{
		"UTF-8": []byte(plain), "UTF-8 with mark": []byte("\ufeff" + plain), "ISO 8859-1": []byte(latin),
		"UTF-16 little": utf16Bytes(declared, binary.LittleEndian), "UTF-16 big": utf16Bytes(declared, binary.BigEndian),
	} {
		s, err := score.Read(bytes.NewReader(data))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if s.Parts[0].Name != "Flügelhorn" || list(s) != "1+0 4 Bb4" {
			t.Errorf("%s: part %q, notes %s", name, s.Parts[0].Name, list(s))
		}
	}
}

func archive(t testing.TB, files ...string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		w, err := z.Create(files[i])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(w, files[i+1]); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const container = `<?xml version="1.0"?><container><rootfiles><rootfile full-path="score.musicxml"/></rootfiles></container>`

func TestReadArchive(t *testing.T) {
	text := doc(`<measure number="1">` + attributes + noteXML("C", 5, 8, "") + `</measure>`)
	for name, data := range map[string][]byte{
		"by its container":    archive(t, "META-INF/container.xml", container, "other.xml", "<no/>", "score.musicxml", text),
		"without a container": archive(t, "score.xml", text),
	} {
		s, err := score.Read(bytes.NewReader(data))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if list(s) != "1+0 4 Bb4" {
			t.Errorf("%s: %s", name, list(s))
		}
	}
}

// endless gives a text, then repeats another for as long as it is read, and
// counts what was taken.
type endless struct {
	head, loop string
	taken      int64
}

func (e *endless) Read(p []byte) (int, error) {
	src := e.head
	if src == "" {
		src = e.loop
	}
	n := copy(p, src)
	if e.head != "" {
		e.head = e.head[n:]
	}
	e.taken += int64(n)
	return n, nil
}

// lyingBomb is an archive whose score inflates to more than it declares.
func lyingBomb(t testing.TB) []byte {
	t.Helper()
	var packed bytes.Buffer
	w, err := flate.NewWriter(&packed, flate.BestSpeed)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.Copy(w, io.LimitReader(&endless{head: "<score-partwise>", loop: " <a></a>"}, 8<<20)); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	raw, err := z.CreateRaw(&zip.FileHeader{Name: "score.xml", Method: zip.Deflate, CompressedSize64: uint64(packed.Len()), UncompressedSize64: 100})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := raw.Write(packed.Bytes()); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// gauge notes the most that was on the heap while it was read from.
type gauge struct {
	r    io.Reader
	read int
	base uint64
	peak uint64 // above base
}

func newGauge(r io.Reader) *gauge {
	runtime.GC() // what earlier cases left is not this one's
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return &gauge{r: r, base: m.HeapAlloc}
}

func (g *gauge) Read(p []byte) (int, error) {
	n, err := g.r.Read(p)
	if g.read/(4<<20) != (g.read+n)/(4<<20) {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		g.peak = max(g.peak, m.HeapAlloc-min(g.base, m.HeapAlloc))
	}
	g.read += n
	return n, err
}

// maxRefusalMB: a single token may hold what MaxXMLBytes lets through, twice
// over while its buffer grows, and garbage waits for its collector.
const maxRefusalMB = 4 * score.MaxXMLBytes >> 20

func parts(n int) string {
	var b strings.Builder
	b.WriteString("<score-partwise><part-list>")
	for i := range n {
		fmt.Fprintf(&b, `<score-part id="P%d"/>`, i)
	}
	return b.String()
}

func TestReadRefusals(t *testing.T) {
	bomb := `<!DOCTYPE score-partwise [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><score-partwise><part-list/>&c;</score-partwise>`
	outside := `<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/hostname">]><score-partwise>&x;</score-partwise>`
	zeros := func() string { return strings.Repeat(" ", 70<<20) }
	deep := `<score-partwise>` + strings.Repeat("<a>", 500)
	bar := func(s string) string { return doc(`<measure number="1">` + s + `</measure>`) }
	// heavy cases make or read tens of MB.
	heavy := []refusal{
		{"a zip bomb", func() io.Reader {
			return bytes.NewReader(archive(t, "META-INF/container.xml", container, "score.musicxml", doc("")+zeros()))
		}, score.ErrTooBig},
		{"a bomb of a container", func() io.Reader {
			return bytes.NewReader(archive(t, "META-INF/container.xml", "<container>"+zeros()))
		}, score.ErrTooBig},
		{"a zip bomb that lies about its size", func() io.Reader { return bytes.NewReader(lyingBomb(t)) }, score.ErrNotMusicXML},
		{"an endless archive", func() io.Reader { return &endless{head: "PK\x03\x04", loop: "0123456789"} }, score.ErrTooBig},
		{"an endless comment", func() io.Reader { return &endless{head: "<score-partwise><!--", loop: "<la>"} }, score.ErrTooBig},
		{"endless elements", func() io.Reader { return &endless{head: "<score-partwise>", loop: "<a></a>"} }, score.ErrTooBig},
	}
	for _, h := range heavy {
		t.Run(h.name, func(t *testing.T) {
			if testing.Short() {
				t.Skip("tens of MB")
			}
			h.check(t)
		})
	}
	for _, tt := range []struct {
		name string
		data io.Reader
		want error
	}{
		{"entities that grow", strings.NewReader(bomb), score.ErrForbidden},
		{"an outside entity", strings.NewReader(outside), score.ErrForbidden},
		{"an undeclared entity", strings.NewReader(`<score-partwise>&lol;</score-partwise>`), score.ErrNotMusicXML},
		{"an endless text", &endless{head: "<score-partwise><work><work-title>", loop: "la"}, score.ErrTooBig},
		{"endless bars", &endless{head: `<score-partwise><part id="P">`, loop: `<measure/>`}, score.ErrTooBig},
		{"too many parts", strings.NewReader(parts(score.MaxParts + 1)), score.ErrTooBig},
		{"nested too deep", strings.NewReader(deep), score.ErrTooBig},
		{"cut off", strings.NewReader(bar(attributes)[:400]), score.ErrNotMusicXML},
		{"another document", strings.NewReader(`<html></html>`), score.ErrNotMusicXML},
		{"no XML", strings.NewReader("Bb major, please"), score.ErrNotMusicXML},
		{"nothing", strings.NewReader(""), score.ErrNotMusicXML},
		{"an empty score", strings.NewReader(`<score-partwise/>`), score.ErrNotMusicXML},
		{"a broken archive", strings.NewReader("PK\x03\x04 and no more"), score.ErrNotMusicXML},
		{"an archive of nothing", bytes.NewReader(archive(t, "readme.txt", "hello")), score.ErrNotMusicXML},
		{"a container that points nowhere", bytes.NewReader(archive(t, "META-INF/container.xml", container)), score.ErrNotMusicXML},
		{"no divisions", strings.NewReader(bar(`<attributes><divisions>0</divisions></attributes>`)), score.ErrNotMusicXML},
		{"divisions in words", strings.NewReader(bar(`<attributes><divisions>two</divisions></attributes>`)), score.ErrNotMusicXML},
		{"a note beyond hearing", strings.NewReader(bar(noteXML("C", 11, 1, ""))), score.ErrNotMusicXML},
		{"a step that is none", strings.NewReader(bar(noteXML("H", 4, 1, ""))), score.ErrNotMusicXML},
		{"a length below nothing", strings.NewReader(bar(noteXML("C", 4, -1, ""))), score.ErrNotMusicXML},
		{"half a semitone of transposition", strings.NewReader(bar(`<attributes><transpose><chromatic>0.5</chromatic></transpose></attributes>`)), score.ErrNotMusicXML},
		{"a strange encoding", strings.NewReader(`<?xml version="1.0" encoding="EBCDIC"?><score-partwise/>`), score.ErrNotMusicXML},
	} {
		t.Run(tt.name, func(t *testing.T) { refusal{tt.name, func() io.Reader { return tt.data }, tt.want}.check(t) })
	}
}

// refusal is a file that must be refused, and why.
type refusal struct {
	name string
	data func() io.Reader
	want error
}

func (r refusal) check(t *testing.T) {
	t.Helper()
	g := newGauge(r.data())
	s, err := score.Read(g)
	if s != nil || !errors.Is(err, r.want) {
		t.Errorf("got %v, %v; want %v", s, err, r.want)
	}
	if err != nil && len(err.Error()) > 2000 {
		t.Errorf("a refusal of %d characters", len(err.Error()))
	}
	t.Logf("%v; at most %d MB", err, g.peak>>20)
	if g.peak > maxRefusalMB<<20 {
		t.Errorf("%d MB on the heap while reading, want at most %d", g.peak>>20, maxRefusalMB)
	}
}
