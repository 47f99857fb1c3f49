package score_test

import (
	"strings"
	"testing"

	"bellrow/hub/score"
)

// TestHeads: clef and key hold until they change, those of a second staff are
// left out, and what is not drawn is no clef (MusicXML 4.0, key and clef).
func TestHeads(t *testing.T) {
	bar := func(attributes string) string {
		return `<measure><attributes><divisions>1</divisions>` + attributes + `</attributes>` + noteXML("C", 4, 4, "") + `</measure>`
	}
	s, err := score.Read(strings.NewReader(doc(
		bar(`<key><fifths>-3</fifths></key><clef number="1"><sign>F</sign><line>4</line></clef><clef number="2"><sign>G</sign><line>2</line></clef>`) +
			`<measure>` + noteXML("C", 4, 4, "") + `</measure>` +
			bar(`<clef><sign>C</sign><line>4</line></clef>`) +
			bar(`<key><fifths>2</fifths></key>`) +
			bar(`<key><fifths>9</fifths></key><clef><sign>percussion</sign></clef>`))))
	if err != nil {
		t.Fatal(err)
	}
	const none = 99
	for i, want := range []struct {
		clef string
		key  int
	}{{"bass", -3}, {"bass", -3}, {"tenor", -3}, {"tenor", 2}, {"", none}} {
		h, key := s.Parts[0].Head(i), none
		if h.Key != nil {
			key = *h.Key
		}
		if h.Clef != want.clef || key != want.key {
			t.Errorf("bar %d: %q, %d; want %q, %d", i+1, h.Clef, key, want.clef, want.key)
		}
	}
}
