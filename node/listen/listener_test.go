package listen

import (
	"math"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// hear plays x in odd blocks and returns all events.
func hear(t *testing.T, x []float64, c Config) []Event {
	t.Helper()
	l, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	var all []Event
	for at := 0; at < len(x); at += 701 {
		all = append(all, l.Write(x[at:min(len(x), at+701)])...)
	}
	return append(all, l.Flush()...)
}

func readings(events []Event) []Reading {
	var rs []Reading
	for _, e := range events {
		if e.Reading != nil {
			rs = append(rs, *e.Reading)
		}
	}
	return rs
}

func TestOneReadingPerNote(t *testing.T) {
	for _, duration := range []float64{1.5, 4} {
		tn, err := tone.New(tone.Natural(tone.Config{Rate: testRate, F0: 233.3, Level: -24, Voice: tone.Trombone, Seed: 1, Duration: duration}))
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, testRate/2)
		note := make([]float64, int(duration*testRate))
		tn.Read(note)
		x = append(append(x, note...), make([]float64, testRate/2)...)
		rs := readings(hear(t, x, Config{Rate: testRate, ClockPPM: -1}))
		if len(rs) != 1 {
			t.Fatalf("%g s: %d readings, want 1", duration, len(rs))
		}
		r := rs[0]
		truth, _ := tn.Truth(r.Start-testRate/2, r.End-testRate/2)
		off := pitch.Between(truth, r.Hz)
		t.Logf("%g s: %+v off %.4f", duration, r, float64(off))
		if !r.Settled || math.Abs(float64(off)) > 1 {
			t.Errorf("%g s: settled %v (%s), off %.3f cents", duration, r.Settled, r.Reason, float64(off))
		}
	}
}

// Events do not depend on how the samples are cut into blocks.
func TestBlocksDoNotMatter(t *testing.T) {
	x := join(silence(0.3), played(t, tone.Config{F0: 174.6, Voice: tone.Horn, Duration: 1.2, Seed: 5}), silence(0.3))
	var want []Event
	for _, block := range []int{480, 1, 333, len(x)} {
		l, err := New(Config{Rate: testRate})
		if err != nil {
			t.Fatal(err)
		}
		var got []Event
		for at := 0; at < len(x); at += block {
			got = append(got, l.Write(x[at:min(len(x), at+block)])...)
		}
		got = append(got, l.Flush()...)
		if want == nil {
			want = got
			continue
		}
		if len(got) != len(want) {
			t.Fatalf("blocks of %d: %d events, want %d", block, len(got), len(want))
		}
		for i := range got {
			a, b := got[i], want[i]
			if a.Sample != b.Sample || a.State != b.State || (a.Reading == nil) != (b.Reading == nil) {
				t.Errorf("blocks of %d: event %d is %+v, want %+v", block, i, a, b)
			}
			if a.Reading != nil && a.Reading.Hz != b.Reading.Hz {
				t.Errorf("blocks of %d: %.9f Hz, want %.9f", block, float64(a.Reading.Hz), float64(b.Reading.Hz))
			}
		}
	}
}

func TestHoldFor(t *testing.T) {
	x := join(silence(0.3), played(t, tone.Config{F0: 174.6, Voice: tone.Horn, Duration: 5, Seed: 5}))
	for _, hold := range []float64{1, 3} {
		l, err := New(Config{Rate: testRate, HoldFor: hold})
		if err != nil {
			t.Fatal(err)
		}
		count := 0
		for at := 0; at+480 <= len(x); at += 480 {
			for _, e := range l.Write(x[at : at+480]) {
				if e.Reading == nil {
					continue
				}
				count++
				if after := float64(e.Sample-e.Reading.Start) / testRate; math.Abs(after-hold) > 0.1 {
					t.Errorf("hold of %g s: reading %.2f s after the rest began", hold, after)
				}
			}
		}
		for _, e := range l.Flush() {
			if e.Reading != nil {
				count++
			}
		}
		if count != 1 {
			t.Errorf("hold of %g s: %d readings, want 1", hold, count)
		}
	}
}

func TestGapSpoilsTheNote(t *testing.T) {
	x := join(silence(0.3), played(t, tone.Config{F0: 174.6, Voice: tone.Horn, Duration: 1.6, Seed: 5}), silence(0.3))
	l, err := New(Config{Rate: testRate})
	if err != nil {
		t.Fatal(err)
	}
	cut := testRate
	events := append([]Event(nil), l.Write(x[:cut])...)
	l.Gap(960)
	events = append(events, l.Write(x[cut+960:])...)
	rs := readings(append(events, l.Flush()...))
	if len(rs) == 0 || rs[0].Settled || rs[0].Reason != ReasonGap {
		t.Fatalf("readings %+v, want the first spoilt by the gap", rs)
	}
	if l.sample != int64(len(x)) {
		t.Errorf("%d samples counted, want %d with the lost ones", l.sample, len(x))
	}
}

// With a reflection half a period late the note sounds an octave too high; it is
// not read there, nor is what is said of the beginning.
func TestReflectionHalfAPeriodLate(t *testing.T) {
	const hz = 233.08
	dry := played(t, tone.Config{F0: hz, Voice: tone.Trombone, Duration: 1.5, Seed: 5})
	x := append(sound(nil), dry...)
	const late = 103 // samples: half a period
	for i := late; i < len(x); i++ {
		x[i] += 0.7 * dry[i-late]
	}
	rs := readings(hear(t, join(silence(0.3), x, silence(0.3)), Config{Rate: testRate, ClockPPM: -1, KeepPath: true}))
	if len(rs) != 1 || !rs[0].Settled {
		t.Fatalf("readings %+v, want one settled", rs)
	}
	r := rs[0]
	if off := float64(pitch.Between(hz, r.Hz)); math.Abs(off) > 5 || math.Abs(float64(r.Early)) > 20 {
		t.Errorf("read %.1f cents off, its beginning %.1f", off, float64(r.Early))
	}
}

func TestPath(t *testing.T) {
	x := join(silence(0.3), played(t, tone.Config{F0: 174.6, Voice: tone.Horn, Duration: 1.5, Seed: 5}), silence(0.3))
	rs := readings(hear(t, x, Config{Rate: testRate, KeepPath: true}))
	if len(rs) != 1 || len(rs[0].Path) < 120 {
		t.Fatalf("%d readings, want one with a path", len(rs))
	}
	for i, p := range rs[0].Path {
		if !p.Hz.Valid() || i > 0 && p.Sample-rs[0].Path[i-1].Sample != testRate/100 {
			t.Fatalf("point %d: %+v", i, p)
		}
	}
}

func TestWriteDoesNotAllocate(t *testing.T) {
	x := played(t, tone.Config{F0: 116.5, Voice: tone.Trombone, Duration: 6, Seed: 3, VibratoHz: 5, VibratoCents: 30})
	l, err := New(Config{Rate: testRate})
	if err != nil {
		t.Fatal(err)
	}
	at := 0
	hop := func() {
		l.Write(x[at : at+480])
		at += 480
	}
	for range 100 {
		hop()
	}
	if n := testing.AllocsPerRun(400, hop); n > 0 {
		t.Errorf("%.2f allocations per hop", n)
	}
}

func TestOtherRates(t *testing.T) {
	for _, rate := range []float64{8000, 16000, 22050, 44100, 96000} {
		tn, err := tone.New(tone.Natural(tone.Config{Rate: rate, F0: 196, Level: -24, Voice: tone.Trombone, Seed: 1, Duration: 1.5}))
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, int(1.8*rate))
		tn.Read(x)
		l, err := New(Config{Rate: rate, ClockPPM: -1})
		if err != nil {
			t.Fatal(err)
		}
		rs := readings(append(append([]Event(nil), l.Write(x)...), l.Flush()...))
		if len(rs) != 1 || !rs[0].Settled {
			t.Errorf("%g Hz: readings %+v, want one settled", rate, rs)
			continue
		}
		truth, _ := tn.Truth(rs[0].Start, rs[0].End)
		if off := float64(pitch.Between(truth, rs[0].Hz)); math.Abs(off) > 0.1 {
			t.Errorf("%g Hz: off by %.3f cents", rate, off)
		}
	}
}

func TestRejectsConfig(t *testing.T) {
	for _, c := range []Config{{}, {Rate: 100}, {Rate: math.NaN()}, {Rate: 48000, HoldFor: 0.1}, {Rate: 48000, HoldFor: 100}} {
		if _, err := New(c); err == nil {
			t.Errorf("%+v: no error", c)
		}
	}
}

func TestWhole(t *testing.T) {
	x := played(t, tone.Config{F0: 174.6, Voice: tone.Horn, Duration: 2, Seed: 5})
	if r := Whole(x[testRate/4:testRate*5/4], Config{Rate: testRate}); !r.Settled || r.CI95 <= 0 || r.End != testRate {
		t.Errorf("a held note: %+v", r)
	}
	if r := Whole(hiss(1, -20, 1), Config{Rate: testRate}); r.Settled || r.Hz != 0 || r.Reason != ReasonNoise {
		t.Errorf("noise: %+v", r)
	}
}
