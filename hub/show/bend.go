package show

import (
	"strings"

	"bellrow/hub/history/study"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/phrase"
)

// sayBend is what the leader says of a bend study, and afterwards what it showed.
func sayBend(r *tuneup.Round, t phrase.Tongue) (sentence, kind string) {
	if r.Phase != tuneup.Done {
		return t.Say(r.Bend.Cue.Key), sayWait
	}
	return strings.Join(r.Bend.Result.In(t), " "), sayDone
}

// besideBend is what stands beside it: the cautions before, a rest afterwards.
func besideBend(r *tuneup.Round, t phrase.Tongue) string {
	switch {
	case r.Phase == tuneup.Done:
		return t.Say("said.bend.rest")
	case r.Bend.Ready:
		return strings.Join(study.Cautions(t), " ")
	}
	return t.Say("said.bend.aloud")
}

// bendView tells a player who has played, or was not heard, to rest, and afterwards
// what their own bend showed.
func bendView(v *proto.View, r *tuneup.Round, c *tuneup.Chair, t phrase.Tongue) {
	if c.State == tuneup.Asked || c.State != tuneup.Heard && r.Phase != tuneup.Done {
		return
	}
	v.Phase, v.Say, v.Answer = phaseRest, t.Say("view.bend.rest"), nil
	for i, p := range r.Bend.Result.Players {
		if r.Bend.Chairs[i] == c.ID {
			words, try := []string{t.Say("view.bend.lost")}, ""
			if p.Bend != nil {
				words, try = p.Bend.Say(t)
			}
			v.Answer = &proto.Answer{ID: int64(r.ID), Kind: "rest", Code: "bend", Headline: v.Say, Detail: strings.Join(words, " "), Next: try}
		}
	}
}
