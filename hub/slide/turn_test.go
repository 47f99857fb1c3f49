package slide

import (
	"strings"
	"testing"
)

// A turn is a list of answers; the player is asked once more after each but
// the last.
func TestTurn(t *testing.T) {
	stay, doubt := Advice{Kind: Stay, Code: "in-band"}, Advice{Kind: Stay, Code: "in-band", Doubt: true}
	move, held := Advice{Kind: Move, Code: "move"}, Advice{Kind: Rest, Code: "held"}
	again, cold := Advice{Kind: Again, Code: "vibrato"}, Advice{Kind: Again, Code: "cold"}
	wrong, limit := Advice{Kind: Note, Code: "octave"}, Advice{Kind: Nothing, Code: "limit"}
	for _, c := range []struct {
		name    string
		answers []Advice
		codes   string // what the player is told
	}{
		{"in tune, and sure of it", []Advice{stay}, "in-band"},
		{"in tune, but not sure", []Advice{doubt, stay}, "once-more in-band"},
		{"never sure", []Advice{doubt, doubt, doubt}, "once-more once-more in-band"},
		{"a move is heard at once", []Advice{move, stay}, "move in-band"},
		{"a move on the last note is heard too", []Advice{again, doubt, move, stay}, "vibrato once-more move in-band"},
		{"but no second one", []Advice{move, move, move, move}, "move move move move"},
		{"a held pitch gets a fresh attack", []Advice{move, held, stay}, "move held in-band"},
		{"a wrong note and vibrato are asked again", []Advice{wrong, again, stay}, "octave vibrato in-band"},
		{"three notes that do not settle are enough", []Advice{again, again, again}, "vibrato vibrato tries"},
		{"a cold instrument is not told to rest", []Advice{cold, cold, cold}, "cold cold cold"},
		{"no slide left", []Advice{limit}, "limit"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var turn Turn
			told := ""
			for i, a := range c.answers {
				got, over := turn.Answer(a)
				turn.Take(got)
				told += " " + got.Code
				if last := i == len(c.answers)-1; over != last {
					t.Errorf("over after note %d: %v, want %v", i+1, over, last)
				}
			}
			if told != " "+c.codes {
				t.Errorf("told%s, want %s", told, c.codes)
			}
			if turn.Notes > MostNotes {
				t.Errorf("%d notes in one turn", turn.Notes)
			}
		})
	}
}

func TestTurnSaysWhy(t *testing.T) {
	a, _ := Turn{Notes: 2}.Answer(Advice{Kind: Again, Code: "vibrato"})
	if a.Kind != Rest || !strings.HasPrefix(Say(a).Detail, "That had vibrato") || Say(a).Next == "" {
		t.Errorf("after enough notes: %+v", a)
	}
	if a, _ = (Turn{}).Answer(Advice{Kind: Stay, Doubt: true}); Say(a).Next == "" || Say(a).Headline == "" {
		t.Errorf("once more without a word: %+v", a)
	}
}

func TestBeliefSure(t *testing.T) {
	for _, c := range []struct {
		b    Belief
		want bool
	}{
		{Belief{Offset: 0, SD: 1.6}, true},
		{Belief{Offset: 1, SD: 1.6}, false},
		{Belief{Offset: -2, SD: 1}, true},
		{Belief{Offset: -2.1, SD: 1}, false},
	} {
		if got := c.b.sure(5); got != c.want {
			t.Errorf("%+v sure to be within 5: %v, want %v", c.b, got, c.want)
		}
	}
}
