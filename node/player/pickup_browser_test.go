package player_test

import (
	"math"
	"testing"
	"time"

	"bellrow/proto/page/browser"
	"bellrow/testdata/hearing"
	"bellrow/testdata/notes"
	"bellrow/testdata/require"
)

// withoutTracks makes a browser one that does not hand out the blocks of a
// track, and keeps its audio context where the test finds it.
const withoutTracks = `delete window.MediaStreamTrackProcessor;
window.AudioContext = class extends AudioContext {
	constructor(options) { super(options); window.context = this; }
};`

// brokenTracks makes a browser hand out blocks of 10 ms, left 0.3 and right
// 0.1, of which three are missing after five seconds, and the stamps of some
// others come early or late.
const brokenTracks = `window.MediaStreamTrackProcessor = class {
	constructor() {
		let i = 0;
		this.readable = new ReadableStream({ async pull(to) {
			await new Promise((done) => setTimeout(done, 1));
			i += i === 500 ? 4 : 1;
			const jitter = i % 7 === 0 ? 8 : i % 11 === 0 ? -8 : 0;
			to.enqueue({
				timestamp: 1000 * (10 * i + jitter), sampleRate: 48000, numberOfFrames: 480, numberOfChannels: 2,
				copyTo(into, { planeIndex }) { into.fill(planeIndex === 0 ? 0.3 : 0.1); },
				close() {},
			});
		} });
	}
};`

// uselessTracks makes a browser promise blocks that cannot be read.
const uselessTracks = `AudioData.prototype.copyTo = () => { throw new DOMException("not here", "NotSupportedError"); };`

// TestLostBlocksAreTold: what the browser loses between device and page is
// counted to the sample, though its blocks carry no number.
func TestLostBlocksAreTold(t *testing.T) {
	_, _, src := opened(t, brokenTracks, faked(notes.Steady(t, notes.Fluid, notes.Trombone, 58, 0.5))...)
	if rate := src.Info().Rate; rate != 48000 {
		t.Errorf("rate %g Hz, want that of the blocks", rate)
	}
	lost := int64(0)
	for at := int64(0); at < 7*48000; {
		b, err := src.Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range b.Samples {
			if math.Abs(x-0.2) > 1e-6 {
				t.Fatalf("sample %g, want the mean of both channels", x)
			}
		}
		lost += b.Lost
		at = b.First + int64(len(b.Samples))
	}
	if lost != 3*480 {
		t.Errorf("%d samples told as lost, want 1440", lost)
	}
}

// TestAudioThread: a browser that gives its sound by way of the audio thread
// alone is a microphone too. When that thread stood still, the sound of that
// time is dropped and told, instead of holding up all that follows.
func TestAudioThread(t *testing.T) {
	require.Alone(t)
	path := notes.Steady(t, notes.Fluid, notes.Trombone, 58, 1.6)
	want := hearing.Direct(t, path)
	b, _, src := opened(t, withoutTracks, faked(path)...)
	const enough = 3
	hearing.From(t, src, enough, time.Minute).Check(t, want, enough)

	const behind = "performance.now() / 1000 - context.currentTime"
	before := browser.Eval[float64](b, behind)
	browser.Eval[bool](b, "(context.suspend(), true)")
	micState(b, "paused")
	time.Sleep(time.Second / 2)
	browser.Eval[bool](b, "(context.resume(), true)")
	micState(b, "live")
	h := hearing.From(t, src, enough, time.Minute)
	stood := browser.Eval[float64](b, behind) - before
	told := float64(h.Lost) / src.Info().Rate
	t.Logf("the audio thread stood still for %.3f s, of which %.3f s were told as lost", stood, told)
	// Less than a tenth is not made good; a new source's beginning is left out.
	if told < stood-0.15 {
		t.Errorf("%.3f s told as lost, want the %.3f s in which the audio thread stood still", told, stood)
	}
	if len(h.Settled) < enough {
		t.Errorf("%d settled readings afterwards, want %d", len(h.Settled), enough)
	}
}

// TestBusyPage: a page that hangs for half a second loses nothing.
func TestBusyPage(t *testing.T) {
	require.Alone(t)
	path := notes.Steady(t, notes.Fluid, notes.Trombone, 58, 1.6)
	want := hearing.Direct(t, path)
	b, _, src := opened(t, "", faked(path)...)
	browser.Eval[int](b, "setTimeout(() => { for (const t = performance.now(); performance.now() - t < 500;); }, 100)")
	const enough = 2
	hearing.From(t, src, enough, time.Minute).Check(t, want, enough)
}

// TestBlocksThatCannotBeRead: the audio thread takes over.
func TestBlocksThatCannotBeRead(t *testing.T) {
	_, _, src := opened(t, uselessTracks, faked(notes.Steady(t, notes.Fluid, notes.Trombone, 58, 0.5))...)
	if b, err := src.Read(t.Context()); err != nil || len(b.Samples) == 0 {
		t.Errorf("%d samples, error %v", len(b.Samples), err)
	}
}

// paces runs the watch over a clock of sound through ten minutes, ten looks a
// second, and notes how many seconds it told as lost.
const paces = `import("./micpace.js").then(({ Pace }) => {
	const run = (counted) => {
		const pace = new Pace(0.1, 0.001);
		let told = 0;
		for (let clock = 1000; clock < 1600; clock += 0.1) told += pace.behind(clock, counted(clock));
		return told;
	};
	window.told = {
		slow: run((t) => t * (1 - 3e-4)),
		quick: run((t) => t * (1 + 3e-4)),
		coarse: run((t) => Math.floor(t / 0.05) * 0.05),
		late: run((t) => t - (Math.floor(t) % 10 === 0 && t % 1 < 0.15 ? 0.5 : 0)),
		stalls: run((t) => t - 0.04 * Math.floor((t - 1000) / 10)),
		still: run((t) => (t < 1300 ? t : Math.max(1300, t - 2))),
	};
})`

// TestPace: a clock of sound that runs a little off and looks that come late
// are no loss; small stalls add up, and a standstill is told to its length.
func TestPace(t *testing.T) {
	b := browser.Open(t)
	_, url := micPageAt(t)
	b.Go(url)
	browser.Eval[bool](b, "("+paces+", true)")
	b.Until("the paces are run", "window.told !== undefined")
	told := browser.Eval[map[string]float64](b, "window.told")
	for _, tt := range []struct {
		name  string
		least float64 // seconds
		most  float64
	}{
		{"slow", 0, 0}, {"quick", 0, 0}, {"coarse", 0, 0}, {"late", 0, 0},
		{"still", 1.9, 2.1},
		// 59 stalls of 40 ms, less what is taken for a slow clock: 1 ms a second.
		{"stalls", 59*0.04 - 0.1 - 0.6, 59 * 0.04},
	} {
		if got := told[tt.name]; got < tt.least-1e-9 || got > tt.most+1e-9 {
			t.Errorf("%s: %.3f s told as lost, want %g to %g", tt.name, got, tt.least, tt.most)
		}
	}
}
