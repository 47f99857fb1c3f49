package proto

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"bellrow/proto/track"
)

func documented(t testing.TB) map[string][]byte {
	paths, err := filepath.Glob("testdata/messages/*.json")
	if err != nil || len(paths) < 10 {
		t.Fatalf("%d documented messages: %v", len(paths), err)
	}
	out := map[string][]byte{}
	for _, p := range paths {
		data, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		out[strings.TrimSuffix(filepath.Base(p), ".json")] = data
	}
	return out
}

func TestDocumentedMessages(t *testing.T) {
	seen := map[Type]bool{}
	for name, data := range documented(t) {
		m, err := Decode(data)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		seen[m.Type] = true
		again, err := Encode(m)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		var want, got any
		if json.Unmarshal(data, &want) != nil || json.Unmarshal(again, &got) != nil {
			t.Fatalf("%s: not JSON", name)
		}
		if missing := lacks(got, want); missing != "" {
			t.Errorf("%s: %s is lost in %s", name, missing, again)
		}
	}
	for _, known := range []Type{
		TypeHello, TypeReading, TypeState, TypeTrack, TypeSetting, TypePing,
		TypeWelcome, TypeView, TypeAck, TypePong, TypeError,
	} {
		if !seen[known] {
			t.Errorf("type %s has no documented message", known)
		}
	}
}

// lacks returns the path of something in want that got does not have.
func lacks(got, want any) string {
	w, ok := want.(map[string]any)
	if !ok {
		if reflect.DeepEqual(got, want) {
			return ""
		}
		return "value"
	}
	g, _ := got.(map[string]any)
	for k, v := range w {
		if inner := lacks(g[k], v); inner != "" {
			return k + "." + inner
		}
	}
	return ""
}

func TestDecodeRefuses(t *testing.T) {
	reading := func(field string) string {
		return `{"type":"reading","reading":{"seq":1,"end_s":1,"hz":440,"settled":true,` + field + `}}`
	}
	deep := strings.Repeat("[", 4000)
	for _, c := range []struct {
		what, data string
		want       error
	}{
		{"nothing", ``, ErrInvalid},
		{"not JSON", `hello`, ErrInvalid},
		{"an array", `[]`, ErrInvalid},
		{"null", `null`, ErrUnknownType},
		{"no type", `{"ack":{"stored":1}}`, ErrUnknownType},
		{"a later type", `{"type":"applause","applause":{}}`, ErrUnknownType},
		{"a later type that reuses a field", `{"type":"applause","ack":"many"}`, ErrUnknownType},
		{"no payload", `{"type":"ack"}`, ErrInvalid},
		{"another's payload", `{"type":"ack","pong":{"id":1}}`, ErrInvalid},
		{"two payloads", `{"type":"ack","ack":{"stored":1},"pong":{"id":1}}`, ErrInvalid},
		{"two messages", `{"type":"ack","ack":{"stored":1}}{"type":"ack","ack":{"stored":2}}`, ErrInvalid},
		{"bad UTF-8", "{\"type\":\"state\",\"state\":{\"state\":\"\xff\"}}", ErrInvalid},
		{"deep nesting", `{"type":"ack","ack":{"stored":1},"x":` + deep, ErrInvalid},
		{"a negative count", `{"type":"ack","ack":{"stored":-1}}`, ErrInvalid},
		{"a count beyond 64 bits", `{"type":"ack","ack":{"stored":18446744073709551616}}`, ErrInvalid},
		{"a number beyond float64", reading(`"ci95_cents":1e999`), ErrInvalid},
		{"a pitch above hearing", `{"type":"reading","reading":{"seq":1,"hz":30000,"settled":true}}`, ErrInvalid},
		{"a negative pitch", `{"type":"reading","reading":{"seq":1,"hz":-440}}`, ErrInvalid},
		{"settled without pitch", `{"type":"reading","reading":{"seq":1,"settled":true}}`, ErrInvalid},
		{"sequence 0", `{"type":"reading","reading":{"seq":0,"hz":440}}`, ErrInvalid},
		{"end before start", reading(`"start_s":5`), ErrInvalid},
		{"negative interval", reading(`"ci95_cents":-1`), ErrInvalid},
		{"a control character in a name", `{"type":"hello","hello":{"version":1,"node":"n","boot":"b","chair":"a\nb","instrument":"i"}}`, ErrInvalid},
		{"a right-to-left override in a name", `{"type":"hello","hello":{"version":1,"node":"n","boot":"b","chair":"a\u202eb","instrument":"i"}}`, ErrInvalid},
		{"a path as node id", `{"type":"hello","hello":{"version":1,"node":"../n","boot":"b","instrument":"i"}}`, ErrInvalid},
		{"no boot", `{"type":"hello","hello":{"version":1,"node":"n","instrument":"i"}}`, ErrInvalid},
		{"version 0", `{"type":"hello","hello":{"node":"n","boot":"b","instrument":"i"}}`, ErrInvalid},
		{"a long name", `{"type":"hello","hello":{"version":1,"node":"n","boot":"b","instrument":"i","chair":"` + strings.Repeat("x", 65) + `"}}`, ErrInvalid},
		{"a large message", `{"type":"ack","ack":{"stored":1},"pad":"` + strings.Repeat("x", MaxPlain) + `"}`, ErrTooLarge},
		{"a huge message", `{"type":"view","pad":"` + strings.Repeat("x", MaxView) + `"}`, ErrTooLarge},
		{"a number beyond JSON's", `{"type":"reading","reading":{"seq":9007199254740993,"end_s":1,"hz":440,"settled":true}}`, ErrInvalid},
		{"a slide of no length", `{"type":"setting","setting":{"slide":"main","mm":-1}}`, ErrInvalid},
	} {
		m, err := Decode([]byte(c.data))
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %+v, %v, want %v", c.what, m, err, c.want)
		}
	}
}

func TestUnknownFieldsAreIgnored(t *testing.T) {
	m, err := Decode([]byte(`{"type":"ack","ack":{"stored":3,"later":[1,2]},"also":{"a":null}}`))
	if err != nil || m.Ack == nil || m.Ack.Stored != 3 {
		t.Errorf("%+v, %v", m, err)
	}
}

func TestEncodeRefusesNaN(t *testing.T) {
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for name, m := range map[string]Message{
			"drift":   {Type: TypeReading, Reading: &Reading{Sequence: 1, Drift: x}},
			"setting": {Type: TypeSetting, Setting: &Setting{Slide: "main", MM: x}},
			"ping":    {Type: TypePing, Ping: &Ping{Offset: x}},
			"track":   {Type: TypeTrack, Track: &track.Chunk{Rate: x}},
			"view":    {Type: TypeView, View: &View{Slides: []Slide{{ID: "main", ToMM: x}}}},
		} {
			if data, err := Encode(m); !errors.Is(err, ErrInvalid) {
				t.Errorf("%s %g: %s, %v", name, x, data, err)
			}
		}
	}
}

// FuzzDecode: whatever decodes encodes again, to bytes that decode to the same.
func FuzzDecode(f *testing.F) {
	for _, data := range documented(f) {
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := Decode(data)
		if err != nil {
			return
		}
		once, err := Encode(m)
		if errors.Is(err, ErrTooLarge) {
			return // escapes and spelt-out zeros may lengthen a message
		}
		if err != nil {
			t.Fatalf("decoded %q, but: %v", data, err)
		}
		again, err := Decode(once)
		if err != nil {
			t.Fatalf("encoded %q, but: %v", once, err)
		}
		if twice, err := Encode(again); err != nil || string(twice) != string(once) {
			t.Fatalf("%q became %q, %v", once, twice, err)
		}
	})
}
