package tuneup_test

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/piece"
	"bellrow/hub/score"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// flat is a value as names and figures; what is nothing is left out.
func flat(x any) map[string]string {
	out := map[string]string{}
	flatten(out, "", reflect.ValueOf(x))
	return out
}

func flatten(out map[string]string, name string, v reflect.Value) {
	if !v.IsValid() || v.IsZero() {
		return
	}
	switch x := v.Interface().(type) {
	case *instrument.Instrument, proto.Reading, slide.Facts, hub.Section, *hub.Section, slide.AsOne, *intonation.Judgement:
		return // what came in, or is told by other names
	case time.Time:
		out[name] = fmt.Sprintf("%.3f", x.Sub(start).Seconds())
		return
	case *piece.Piece:
		out[name] = fmt.Sprint("next ", x.Next())
		return
	case fmt.Stringer:
		out[name] = x.String()
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		flatten(out, name, v.Elem())
	case reflect.Struct:
		for i := range v.NumField() {
			f := v.Type().Field(i)
			if !f.IsExported() || f.Name == "Words" {
				continue
			}
			to := name + "." + f.Name
			if f.Anonymous {
				to = name
			}
			if p, record := v.Field(i).Interface().(*hub.Reading); record && p != nil {
				out[to] = fmt.Sprint(p.ID)
				continue
			}
			flatten(out, to, v.Field(i))
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			flatten(out, fmt.Sprint(name, ".", k), v.MapIndex(k))
			if v.MapIndex(k).IsZero() {
				out[fmt.Sprint(name, ".", k)] = "0"
			}
		}
	case reflect.Slice:
		all := make([]string, v.Len())
		for i := range all {
			switch x := v.Index(i).Interface().(type) {
			case *hub.Reading:
				all[i] = fmt.Sprint(x.ID)
			case *hub.MoveRecord:
				all[i] = fmt.Sprint(x.ID)
			case slide.Step:
				all[i] = fmt.Sprintf("%s %g to %g", x.Slide, x.FromMM, x.ToMM)
			default:
				all[i] = fmt.Sprint(x)
			}
		}
		out[name] = "[" + strings.Join(all, " ") + "]"
	case reflect.Float32, reflect.Float64:
		out[name] = fmt.Sprintf("%.3f", v.Float())
	default:
		out[name] = fmt.Sprint(v.Interface())
	}
}

// news is what is otherwise in b than in a.
func news(a, b map[string]string) string {
	var out []string
	for _, k := range slices.Sorted(maps.Keys(b)) {
		if a[k] != b[k] {
			out = append(out, k+" "+b[k])
		}
	}
	for _, k := range slices.Sorted(maps.Keys(a)) {
		if _, still := b[k]; !still {
			out = append(out, k+" -")
		}
	}
	return strings.Join(out, "; ")
}

// stored is what a change changes.
func stored(c hub.Change) string {
	v := reflect.ValueOf(c)
	was, is := map[string]string{}, map[string]string{}
	if f := v.FieldByName("Was"); f.IsValid() && !f.IsNil() {
		was = flat(f.Elem().Interface())
	}
	f := v.FieldByName("Is")
	if f.Kind() == reflect.Pointer {
		f = f.Elem()
	}
	if s, whole := f.Interface().(hub.Section); whole {
		is["A"], is["good"], is["order"], is["fixed"], is["chairs"] = fmt.Sprint(float64(s.Reference.A4)), fmt.Sprint(float64(s.Good)), string(s.Order), fmt.Sprint(s.FixedPitch), fmt.Sprint(len(s.Chairs))
		if w := v.FieldByName("Was"); !w.IsNil() {
			s := w.Elem().Interface().(hub.Section)
			was["A"], was["good"], was["order"], was["fixed"], was["chairs"] = fmt.Sprint(float64(s.Reference.A4)), fmt.Sprint(float64(s.Good)), string(s.Order), fmt.Sprint(s.FixedPitch), fmt.Sprint(len(s.Chairs))
		}
	} else if s, value := c.(hub.ValueChange); value {
		is[s.Key] = fmt.Sprint(len(s.Is), " characters")
	} else {
		is = flat(f.Interface())
	}
	id := ""
	if n := f; n.Kind() == reflect.Struct && n.FieldByName("ID").IsValid() {
		id = fmt.Sprint(" ", n.FieldByName("ID"))
	}
	return strings.NewReplacer("Change", "", "Added", "").Replace(v.Type().Name()) + id + ": " + news(was, is)
}

// chorale is a piece of a few held chords for four parts.
func chorale(t testing.TB) *piece.Piece {
	s := &score.Score{Title: "Quay, evening", Parts: []score.Part{{Name: "Trumpet", Instrument: "trumpet_bb", Transposition: -2}, {Name: "Horn", Instrument: "horn_f", Transposition: -7}, {Name: "Trombone", Instrument: "tenor_trombone_bbf"}, {Name: "Tuba", Instrument: "tuba_bbb"}}}
	for i, chord := range [][]string{{"D5", "F4", "Bb3", "Bb2"}, {"Eb5", "G4", "Bb3", "Eb2"}, {"F4", "F4", "F3", "F2"}, {"C5", "F4", "A3", "F2"}} {
		s.Bars = append(s.Bars, score.Bar{Number: fmt.Sprint(i + 1), Start: piece.Quarters(float64(4 * i)), Length: piece.Quarters(4)})
		for part, name := range chord {
			n, err := pitch.ParseSpelled(name)
			if err != nil {
				t.Fatal(err)
			}
			s.Parts[part].Notes = append(s.Parts[part].Notes, score.Note{Bar: i, Start: piece.Quarters(float64(4 * i)), Length: piece.Quarters(4), Pitch: n.Note(), Written: n.Note() - pitch.Note(s.Parts[part].Transposition)})
		}
	}
	p, err := piece.New(s, piece.Quarters(1))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// busy is what a leader of a piece, a chord or a section that is off as one does next.
func (r *rig) busy(d *dice, seq *uint64) tuneup.Event {
	st := r.state.Standing(r.now)
	chair := st.Chairs[d.of(len(st.Chairs))].ID
	switch d.of(30) {
	case 0:
		return tuneup.Opened{Piece: chorale(r.t)}
	case 1:
		return tuneup.Command{Do: hub.DoNextSonority}
	case 2:
		return tuneup.Command{Do: hub.DoSonority, Index: d.of(4)}
	case 3:
		return tuneup.Command{Do: hub.DoPart, Chair: chair, Part: d.of(4)}
	case 4:
		return tuneup.Command{Do: []string{hub.DoAllMove, hub.DoFollow, hub.DoHearAgain, hub.DoWarmUp, hub.DoMoves}[d.of(5)]}
	case 5:
		return tuneup.Command{Do: hub.DoBend}
	case 6:
		return tuneup.Command{Do: hub.DoUndo}
	case 7:
		return tuneup.Command{Do: hub.DoFingering, Chair: chair, Name: []string{"1-3", "open", "2", "4th position"}[d.of(4)]}
	case 8:
		return tuneup.Command{Do: hub.DoTone, Chair: chair, Note: pitch.Note(46 + d.of(30))}
	case 9:
		return tuneup.Command{Do: hub.DoAgain, Chair: chair * hub.ChairID(d.of(2))}
	case 10:
		s := r.state.Section()
		s.Reference.A4 = pitch.Hertz([]float64{438, 440, 442, 443}[d.of(4)])
		s.HornOrder = []slide.HornOrder{slide.BbSideFirst, slide.FSideFirst}[d.of(2)]
		if n := len(s.Chairs); n > 0 {
			c := &s.Chairs[d.of(n)]
			c.Travel = instrument.Settings{instrument.Main: float64(30 + d.of(20))}
			c.Absent = d.of(6) == 0
		}
		return tuneup.Command{Do: hub.DoEdit, Section: &s}
	case 11:
		return tuneup.Command{Do: []string{hub.DoAbsent, hub.DoPresent, hub.DoSkip, hub.DoRemove}[d.of(4)], Chair: chair}
	case 12:
		p := hub.Peer{Node: []string{"nCy", "nBo", "nAda", "nNew"}[d.of(4)], Boot: "b", Instrument: []instrument.ID{"tuba_bbb", "horn_f", "trumpet_bb", "horn_double"}[d.of(4)],
			Chair: []string{"Cy", "Trumpet 1", " bo ", "", "Zoe"}[d.of(5)], Part: []string{"", "2nd"}[d.of(2)], Tracks: d.of(2) == 0}
		known := hub.NodeRecord{}
		if d.of(2) == 0 {
			known = hub.NodeRecord{Node: p.Node, Chair: chair, TokenHash: []byte{1, 2}}
			if d.of(2) == 0 {
				p.TokenHash = []byte{3}
			}
		}
		return tuneup.Joined{Peer: p, Known: known}
	case 13:
		return tuneup.Setting{Chair: chair, Set: proto.Setting{Slide: instrument.Main, MM: float64(d.of(60)), TravelMM: []float64{0, 50}[d.of(2)]}}
	case 14:
		return tuneup.Left{Chair: chair, Node: r.node(chair)}
	}
	return r.likely(d, seq)
}

// factsOf is a rehearsal with the facts that were seen of it last.
type factsOf struct {
	*rig
	last map[string]string
}

// tell writes down what an event has changed.
func (f *factsOf) tell(out *strings.Builder, at, what string, o tuneup.Outcome, err error) {
	st, now := f.state.Standing(f.now), f.standingFacts()
	if st.Round != nil && st.Round.Judgement != nil {
		now["rings"] = fmt.Sprint(st.Round.Judgement.Rings)
	}
	delete(now, ".Used")
	fmt.Fprintf(out, "%s %s seen %d", at, what, o.Seen)
	if !o.Wake.IsZero() {
		fmt.Fprintf(out, " wakes %.2f", o.Wake.Sub(f.now).Seconds())
	}
	if err != nil {
		fmt.Fprintf(out, " refused %v", err)
	}
	if n := news(f.last, now); n != "" {
		fmt.Fprintf(out, "\n  %s", n)
	}
	for _, c := range o.Changes {
		fmt.Fprintf(out, "\n  > %s", stored(c))
	}
	if o.Fit != nil {
		for _, c := range o.Fit.Chairs {
			fmt.Fprintf(out, "\n  ? %d expected %.3f believed %.3f doubt %.3f from %.2f to %.2f tracks %t chunks %d usual %.2f read %t", c.ID, float64(c.Expected), float64(c.Believed), float64(c.Doubt),
				float64(c.Range.Low), float64(c.Range.High), c.Tracks, len(c.Chunks), float64(c.Baseline), c.Reading != nil)
		}
		fmt.Fprintf(out, "\n  ? unknown %t", o.Fit.Unknown)
	}
	if j := o.Joined; j.Chair != 0 {
		fmt.Fprintf(out, "\n  joined %d in place of %q", j.Chair, j.Replaced)
	}
	out.WriteString("\n")
	f.last = now
}

// TestWalkOfFacts writes down each fact that changes in rehearsals drawn by chance, what is stored
// of it, who can see it and when the state wants to be woken. As in TestWalk it says what is,
// not what is right.
func TestWalkOfFacts(t *testing.T) {
	var out strings.Builder
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 77))
		data := make([]byte, 1200)
		for i := range data {
			data[i] = byte(rng.Uint32())
		}
		r, d, seq := newRig(t), &dice{data}, uint64(0)
		f := factsOf{rig: r}
		tell := func(k int, what string, o tuneup.Outcome, err error) {
			f.tell(&out, fmt.Sprintf("%d.%d", seed, k), what, o, err)
		}
		for i := range 4 {
			o, err := r.step(tuneup.Joined{Peer: hub.Peer{Node: fmt.Sprint("n", players[i].name), Boot: "b", Chair: players[i].name, Instrument: players[(i+int(seed)%2)%5].in, Tracks: seed%3 == 0}})
			tell(-1, players[i].name, o, err)
		}
		s := r.state.Section()
		s.Order = []hub.Order{hub.OrderLowToHigh, hub.OrderByWorth, hub.OrderTwoAtOnce, hub.OrderSeating}[seed%4]
		o, err := r.step(tuneup.Command{Do: hub.DoEdit, Section: &s})
		tell(-1, "order", o, err)
		for k := 0; k < 70 && len(d.left) > 0; k++ {
			r.now = r.now.Add(time.Duration(1+d.of(256)*37) * time.Millisecond)
			e := r.busy(d, &seq)
			o, err := r.step(e)
			what := reflect.TypeOf(e).Name()
			if c, command := e.(tuneup.Command); command {
				what += " " + c.Do
			}
			tell(k, what, o, err)
			r.solve(d)
			if !r.wake.IsZero() && r.wake.Before(r.now.Add(2*time.Second)) && r.wake.After(r.now) {
				r.now = r.wake
				o, err = r.step(tuneup.Tick{})
				tell(k, "Tick", o, err)
			}
		}
	}
	golden.Lines(t, "facts.golden", out.String())
}
