package instrument

import "testing"

func TestPathString(t *testing.T) {
	for want, p := range map[string]Path{
		"open": {}, "1-3": {Valves: "1-3"}, "2-4": {Valves: "2-4"}, "4th position": {Position: 4}, "1st position": {Position: 1},
		"F attachment 6th position": {Position: 6, Side: "F"}, "B♭ side 1-2": {Side: "Bb", Valves: "1-2"}, "F side open": {Side: "F"},
		"2.5 position": {Position: 2.5}, "second valve 2nd position": {Position: 2, Side: "Gb"}, "both valves 3rd position": {Position: 3, Side: "D"},
	} {
		if got := p.String(); got != want {
			t.Errorf("%+v is %q, want %q", p, got, want)
		}
	}
}

func TestParsePath(t *testing.T) {
	for s, want := range map[string]Path{
		"open": {}, "0": {}, "Open": {}, "1-3": {Valves: "1-3"}, "13": {Valves: "1-3"}, "3-1": {Valves: "1-3"}, "1+2": {Valves: "1-2"},
		"1, 2": {Valves: "1-2"}, "4": {Valves: "4"}, "4th position": {Position: 4}, "4 pos": {Position: 4}, "position 4": {}, "2.5 position": {Position: 2.5},
		"F attachment 6th position": {Position: 6, Side: "F"}, "f attachment 6": {Position: 6, Side: "F"}, "F6 position": {Position: 6, Side: "F"},
		"both valves 3rd position": {Position: 3, Side: "D"}, "D3": {Position: 3, Side: "D"}, "G♭ 2": {Position: 2, Side: "Gb"}, "second valve 2nd position": {Position: 2, Side: "Gb"},
		"B♭ side 1-2": {Side: "Bb", Valves: "1-2"}, "bb side open": {Side: "Bb"}, "Bb 2": {Side: "Bb", Valves: "2"},
		"t12": {Side: "Bb", Valves: "1-2"}, "T0": {Side: "Bb"}, "F side 1": {Side: "F", Valves: "1"},
	} {
		got, err := ParsePath(s)
		if s == "position 4" {
			if err == nil {
				t.Errorf("%q is read as %v", s, got)
			}
			continue
		}
		if err != nil || got != want {
			t.Errorf("%q is %+v, %v; want %+v", s, got, err, want)
		}
	}
	for _, s := range []string{"", "7", "1-1", "0-1", "thumb", "9th position", "0 position", "F attachment", "1-2-3-4-1", "third", "-", "NaN position"} {
		if got, err := ParsePath(s); err == nil {
			t.Errorf("%q is read as %+v", s, got)
		}
	}
}

// Whatever a path is called is read back as that path.
func TestPathsReadBack(t *testing.T) {
	for _, in := range Catalogue() {
		for _, p := range in.tubes() {
			got, err := ParsePath(p.String())
			if err != nil || !got.SamePath(p) {
				t.Errorf("%s: %q reads back as %+v, %v", in.ID, p.String(), got, err)
			}
		}
	}
}

func FuzzParsePath(f *testing.F) {
	for _, s := range []string{"1-3", "open", "F attachment 6th position", "B♭ side 1-2", "t12", "2.5 position", "♭♭", "1 2"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := ParsePath(s)
		if err != nil {
			return
		}
		if q, err := ParsePath(p.String()); err != nil || !q.SamePath(p) {
			t.Fatalf("%q is %+v, called %q, which reads back as %+v, %v", s, p, p.String(), q, err)
		}
	})
}
