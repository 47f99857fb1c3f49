package main

import (
	"encoding/json"
	"math/rand/v2"
	"net"
	"strings"
	"testing"

	"bellrow/node/check"
)

// checkLines decodes the JSON Lines of a check.
func checkLines(t *testing.T, text string) map[string]check.Line {
	t.Helper()
	lines := map[string]check.Line{}
	dec := json.NewDecoder(strings.NewReader(text))
	for dec.More() {
		var l check.Line
		if err := dec.Decode(&l); err != nil {
			t.Fatal(err)
		}
		lines[l.Check] = l
	}
	return lines
}

// rehearsalSound is a recording as the check wants it: a quiet room, a held
// note, a quiet room.
func rehearsalSound(noise float64) []float64 {
	const rate = 48000
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, 10*rate)
	copy(x[3*rate:], held(233.08, rate, 3))
	for i := range x {
		x[i] += noise * rng.NormFloat64()
	}
	return x
}

func TestCheckRecording(t *testing.T) {
	for _, tt := range []struct {
		name  string
		noise float64
		code  int
		todo  []string
	}{
		{"good", 0.0005, exitOK, nil},
		{"noisy", 0.02, exitFailed, []string{"noise"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := writeWAV(t, "check.wav", rehearsalSound(tt.noise), 48000)
			code, out, errs := trial(t, "check", "--no-network", "--json", "--wav", path)
			if code != tt.code {
				t.Errorf("status %d, want %d; %s%s", code, tt.code, out, errs)
			}
			lines := checkLines(t, out)
			if len(lines) < 6 {
				t.Errorf("%d lines, want the whole microphone check", len(lines))
			}
			for _, name := range tt.todo {
				if l := lines[name]; l.State != check.Act || l.Do == "" {
					t.Errorf("%s: %+v, want what to do", name, l)
				}
			}
		})
	}
}

func TestCheckNetwork(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	_, out, _ := trial(t, "check", "--no-sound", "--json", "--hub", l.Addr().String())
	if got := checkLines(t, out); got["hub"].State != check.OK || got["round-trip"].State != check.OK {
		t.Errorf("hub %+v, round trip %+v", got["hub"], got["round-trip"])
	}
	l.Close()
	code, out, _ := trial(t, "check", "--no-sound", "--hub", l.Addr().String())
	if code != exitFailed || !strings.Contains(out, "does not answer") {
		t.Errorf("status %d, printed %q, want %d and that nothing answers", code, out, exitFailed)
	}
}

func TestCheckUsage(t *testing.T) {
	for _, args := range [][]string{{"check", "stray"}, {"check", "--hub", "not an address"}, {"check", "--loud"}} {
		if code, _, errs := trial(t, args...); code != exitUsage || errs == "" {
			t.Errorf("%v: status %d, stderr %q, want status %d and a sentence", args, code, errs, exitUsage)
		}
	}
}
