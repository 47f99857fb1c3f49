package session_test

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/hub/sqlite"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// rehearsals are what testdata/earlier-NAME.db.gz holds: the database that the
// last version that stored sentences wrote of each of them.
// testdata/earlier-NAME.json is what its players then saw after a restart.
var rehearsals = map[string]func(b *bench, tuba, horn, trumpet *player){
	"note": func(b *bench, tuba, horn, trumpet *player) {
		b.call("Bb4")
		tuba.play(20)
		horn.playOut()
		trumpet.send(unsettled("vibrato"))
	},
	"room": func(b *bench, tuba, horn, trumpet *player) {
		b.call("Bb4")
		for range 3 {
			for _, p := range []*player{tuba, horn, trumpet} {
				if p.view().Listen {
					p.play(-14)
				}
			}
		}
	},
	"chord": func(b *bench, tuba, horn, trumpet *player) {
		b.do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "Bb major",
			Tones: map[hub.ChairID]pitch.Note{tuba.chair: 46, horn.chair: 53, trumpet.chair: 62}}})
		tuba.play(0)
		horn.play(-30)
		trumpet.play(14)
	},
}

// better is what players are told in other words by now.
var better = strings.NewReplacer("The whole section is off the same way: it is the room, or everybody is cold.", "The whole section is about 14 cents flat as one, you with it.")

// TestEarlierDatabase: what an earlier version stored is shown as that version
// showed it, sentences and all; the same rehearsal today stores no sentence and
// is shown the same, or better.
func TestEarlierDatabase(t *testing.T) {
	for name, rehearse := range rehearsals {
		t.Run(name, func(t *testing.T) {
			want, err := os.ReadFile(filepath.Join("testdata", "earlier-"+name+".json"))
			if err != nil {
				t.Fatal(err)
			}
			today := newBench(t)
			rehearse(today.three())
			earlier := newBench(t)
			earlier.store, earlier.now = unpacked(t, name), today.now
			earlier.start()
			for which, b := range map[string]*bench{"earlier": earlier, "today's": today} {
				_, tuba, horn, trumpet := b.three()
				b.restart(tuba, horn, trumpet)
				views := []proto.View{tuba.view(), horn.view(), trumpet.view()}
				for i := range views { // what is told since: the chair's label, instrument and clef
					_, name, _ := strings.Cut(views[i].Chair, ", ")
					views[i].Chair, views[i].Instrument, views[i].Clef = cmp.Or(name, views[i].Chair), "", ""
				}
				got, err := json.MarshalIndent(views, "", "\t")
				want := want
				if b == today {
					want = []byte(better.Replace(string(want)))
				}
				if err != nil || !bytes.Equal(append(got, '\n'), want) {
					t.Errorf("%s records (%v) are shown as\n%s\nneed\n%s", which, err, got, want)
				}
				rs, err := b.store.Answers(t.Context(), 1, time.Time{})
				if err != nil || len(rs) < 3 {
					t.Fatalf("%d answers (%v)", len(rs), err)
				}
				for _, r := range rs {
					if sentences := r.Answer.Words != (slide.Words{}); sentences != (b == earlier) {
						t.Errorf("%s record holds %+v", which, r.Answer)
					}
				}
			}
			if name != "note" {
				return
			}
			_, tuba, _, trumpet := earlier.three()
			tuba.seq, trumpet.seq = 10, 10
			tuba.setSlide()
			earlier.now = earlier.now.Add(time.Minute)
			trumpet.play(0) // whose turn it was
			tuba.play(0)
			if row := tuba.row(); row.Verdict != "set" || row.FollowThrough == "" {
				t.Errorf("the rehearsal goes on with %+v", row)
			}
		})
	}
}

// three are the players of a rehearsal, with their bench.
func (b *bench) three() (_ *bench, tuba, horn, trumpet *player) {
	tuba, horn, trumpet = b.trio()
	return b, tuba, horn, trumpet
}

// unpacked is a store on a copy of an earlier database.
func unpacked(t *testing.T, name string) hub.Store {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", "earlier-"+name+".db.gz"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	db, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "hub.db")
	if err := os.WriteFile(path, db, 0o600); err != nil {
		t.Fatal(err)
	}
	store, err := sqlite.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	return store
}
