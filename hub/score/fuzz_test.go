package score_test

import (
	"bytes"
	"testing"

	"bellrow/hub/score"
)

// FuzzRead: whatever the bytes, reading ends in a score that makes sense or in
// an error.
func FuzzRead(f *testing.F) {
	f.Add([]byte(twoParts))
	f.Add([]byte(doc(`<measure number="1">` + attributes + noteXML("C", 5, 8, `<tie type="start"/>`) + `<backup><duration>3</duration></backup></measure>`)))
	f.Add([]byte("<score-timewise><measure><part id=\"a\"><note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration></note></part></measure></score-timewise>"))
	f.Add([]byte("PK\x03\x04"))
	f.Add(archive(f, "META-INF/container.xml", container, "score.musicxml", twoParts))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := score.Read(bytes.NewReader(data))
		if err != nil {
			return
		}
		end := s.Bars[len(s.Bars)-1].Start + s.Bars[len(s.Bars)-1].Length
		for _, p := range s.Parts {
			for i, n := range p.Notes {
				if n.Length <= 0 || n.Start < 0 || n.End() > end || n.Bar < 0 || n.Bar >= len(s.Bars) || n.Pitch < 0 || n.Pitch > 127 {
					t.Fatalf("note %+v in a score of %d bars that ends at %d", n, len(s.Bars), end)
				}
				if i > 0 && n.Start < p.Notes[i-1].Start {
					t.Fatal("notes out of order")
				}
			}
		}
		list, err := s.Sonorities(1)
		if err != nil {
			return
		}
		for _, x := range list {
			if len(x.Tones) == 0 || x.Length <= 0 || x.Offset < 0 || x.Offset+x.Length > s.Bars[x.Bar].Length {
				t.Fatalf("sonority %+v in a bar of %d", x, s.Bars[x.Bar].Length)
			}
		}
	})
}
