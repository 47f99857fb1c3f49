package show_test

import (
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// asked is a section with one chair that is asked for a concert B flat 3.
func asked(t *testing.T, id instrument.ID, names pitch.Style, own string) (tuneup.Standing, *tuneup.Chair) {
	t.Helper()
	in, err := instrument.Find(id)
	if err != nil {
		t.Fatal(err)
	}
	st := tuneup.Standing{
		Section: &hub.Section{Notes: names, TuningNotes: []pitch.Note{58, 71}},
		Chairs: []tuneup.Chair{{Chair: &hub.Chair{ID: 1, Label: "Chair"}, Instrument: in, State: tuneup.Asked, Part: true, Note: 58,
			Sound: proto.State{Names: own}}},
		Round: &tuneup.Round{Round: &hub.Round{Call: hub.Call{Kind: hub.CallNote, Note: 58, Tones: map[hub.ChairID]pitch.Note{1: 58}}}},
	}
	st.Round.Asked = 1
	return st, &st.Chairs[0]
}

// TestNotesAsTheyAreRead: the row names notes as the section does, a player's
// page as the player does; the wire in English, so that laptops of every version
// read it. The German names are those of TestNamesOfLanguages.
func TestNotesAsTheyAreRead(t *testing.T) {
	german, french := pitch.Style{Naming: pitch.German}, pitch.Style{Naming: pitch.French}
	for _, c := range []struct {
		names    pitch.Style
		own      string
		title    string
		row, say string
	}{
		{pitch.Style{}, "", "B♭,", "written B♭3", "Play your B♭3,"},
		{german, "", "B (B♭),", "written B3 (B♭3)", "Play your B3 (B♭3),"},
		{french, "", "Si♭,", "written Si♭3", "Play your Si♭3,"},
		{french, "german-helmholtz", "Si♭,", "written Si♭3", "Play your b (B♭3),"},
		{german, "english", "B (B♭),", "written B3 (B♭3)", "Play your B♭3,"},
		{german, "elvish", "B (B♭),", "written B3 (B♭3)", "Play your B3 (B♭3),"},
	} {
		st, chair := asked(t, "tenor_trombone_bb", c.names, c.own)
		row, v := show.NewRow(st, 1, nil), show.NewView(st, chair)
		if !strings.HasPrefix(row.Round.Title, c.title) || !strings.Contains(row.Say, c.row) {
			t.Errorf("%v, %q: the row says %q, %q", c.names, c.own, row.Round.Title, row.Say)
		}
		if !strings.HasPrefix(v.Say, c.say) || v.Written != "B♭3" || v.Concert != "B♭3" {
			t.Errorf("%v, %q: the view says %q, written %q, concert %q", c.names, c.own, v.Say, v.Written, v.Concert)
		}
	}
}

// TestAnswersNameNotesAsTheyAreRead: a slip of the octave is told in the
// player's own names: B natural is H to a German.
func TestAnswersNameNotesAsTheyAreRead(t *testing.T) {
	st, chair := asked(t, "trumpet_bb", pitch.Style{Naming: pitch.German}, "")
	chair.State, chair.Note = tuneup.Heard, 69
	r := &hub.Reading{Counted: true, Answer: &hub.Answer{Advice: slide.Advice{Kind: slide.Note, Code: "octave", Heard: 57,
		Facts: slide.Facts{Called: 69, Transposition: -2}}}}
	chair.InRound = r
	v := show.NewView(st, chair)
	if v.Answer == nil || v.Answer.Headline != "That sounded as concert A3, your H3." {
		t.Errorf("the answer is %+v", v.Answer)
	}
}
