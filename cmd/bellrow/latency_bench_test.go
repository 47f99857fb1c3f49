package main

import (
	"context"
	"log/slog"
	"math"
	"net/http"
	"net/http/httptest"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/node"
	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/node/uplink"
	"bellrow/proto/page/browser"
	"bellrow/testdata/soundcard"
)

// microphone is one way of a player's sound into the node.
type microphone struct {
	name   string
	page   bool   // the page is the microphone
	script string // before the page's own
	open   func(ctx context.Context, m *player.Microphone) (capture.Source, error)
}

// microphones are those of this build: the browser as it is, and as one that
// gives sound by way of the audio thread alone.
var microphones = []microphone{
	{"browser", true, "", openPage},
	{"audio-thread", true, "delete window.MediaStreamTrackProcessor;", openPage},
}

func openPage(ctx context.Context, m *player.Microphone) (capture.Source, error) { return m.Open(ctx) }

// BenchmarkAnswer is the time from the end of a hold, as a witness beside the
// microphone hears it in the room, to the paint of the frozen answer on the
// player's page in Chromium: sound server, microphone, listener, node, network,
// hub with its commit to the database, the way back, and the page. On the way
// it notes when that end was sent by the page (if that is the microphone),
// arrived at the node, when the sound that decided came to the listener, when
// the reading was there, and when the page had its answer.
//
// A player who holds on is answered as soon as the hold is long enough; its
// end is the last measured sample. A player who lets go before that is
// answered once the note is over; the end is the last sample that sounds.
func BenchmarkAnswer(b *testing.B) {
	for _, m := range microphones {
		for _, k := range []struct {
			name    string
			seconds float64
		}{{"held-on", 3.2}, {"let-go", 1.5}} {
			b.Run(m.name+"/"+k.name, func(b *testing.B) { answers(b, m, k.seconds) })
		}
	}
}

// answersWanted is how many answers one run times: enough for a 95th
// percentile that is not merely the worst, and within the browser's patience.
const answersWanted = 24

// answers times the answers to notes of the given length.
func answers(b *testing.B, m microphone, noteSeconds float64) {
	h := openRoom(b, m, noteSeconds)
	stages := map[string][]time.Duration{}
	for b.Loop() {
		for missed := 0; len(stages["painted"]) < answersWanted; {
			n, ok := h.play()
			if !ok {
				if missed++; missed > answersWanted/2 {
					b.Fatalf("%d answers, and %d notes without one", len(stages["painted"]), missed)
				}
				continue
			}
			for stage, at := range n.stages {
				stages[stage] = append(stages[stage], at.Sub(n.end))
			}
		}
	}
	for name, took := range stages {
		slices.Sort(took)
		for p, at := range map[string]int{"p50": len(took) / 2, "p95": len(took) * 95 / 100, "max": len(took) - 1} {
			b.ReportMetric(took[at].Seconds()*1000, name+"-"+p+"-ms")
		}
	}
	b.ReportMetric(0, "ns/op")
}

// heldRoom is a hub, a player's node and page, and a room to play in.
type heldRoom struct {
	b       *testing.B
	station *station
	card    *soundcard.Card
	browser *browser.Browser
	note    string        // sound file
	length  time.Duration // from its first to its last loud sample
	source  *onsets

	mu       sync.Mutex
	reading  listen.Reading
	decided  time.Time
	computed time.Time
	ears     attack
	sounded  time.Time // when the witness heard the last note begin
}

func openRoom(b *testing.B, m microphone, noteSeconds float64) *heldRoom {
	h := &heldRoom{b: b, card: soundcard.Start(b)}
	h.render(noteSeconds)
	s, err := openStation(b.Context(), stationConfig{listen: "127.0.0.1:0", data: b.TempDir(), section: "Answers", log: slog.New(slog.DiscardHandler)})
	if err != nil {
		b.Fatal(err)
	}
	h.station = s
	d, address := h.desk(m)
	ctx, stop := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { s.run(ctx) })
	running.Go(func() { d.run(ctx, false) })
	b.Cleanup(func() { stop(); running.Wait() })
	h.card.Overhear(h.witness)
	h.openPage(address, m)
	chairs(b, s, "the player has a seat", func(c []show.ChairRow) bool { return len(c) == 1 && c[0].State != "away" })
	return h
}

// desk makes the player's desk and serves its page.
func (h *heldRoom) desk(m microphone) (d *desk, address string) {
	mic := player.NewMicrophone(nil)
	pc := player.Config{Node: &front{}}
	if m.page {
		pc.Mic = mic
	}
	page, err := player.New(pc)
	if err != nil {
		h.b.Fatal(err)
	}
	mux := http.NewServeMux()
	mux.Handle(page.Path(), page.Handler())
	web := httptest.NewServer(mux)
	h.b.Cleanup(web.Close)
	log := slog.New(slog.DiscardHandler)
	d, err = newDesk(deskConfig{
		uplink: uplink.Config{
			Chair: "Trombone", Instrument: "tenor_trombone_bb", Tracks: true,
			Join: h.station.guard.JoinCode(), Hub: h.station.playersLink(), NoMulticast: true, Log: log,
		},
		played: node.WarmSeconds, page: page, log: log, heard: h.heard,
		open: func(ctx context.Context) (capture.Source, error) {
			src, err := m.open(ctx, mic)
			if err != nil {
				return nil, err
			}
			h.source = &onsets{Source: src}
			return h.source, nil
		},
	})
	if err != nil {
		h.b.Fatal(err)
	}
	return d, web.URL + page.Path()
}

// watched notes, in the page, when sound was sent that begins a note, and when
// an answer that was not there has come and when it has been painted: the task
// after the next frame.
const watched = `window.sent = [];
window.painted = [];
const now = () => performance.timeOrigin + performance.now();
let quiet = 0;
const send = WebSocket.prototype.send;
WebSocket.prototype.send = function (data) {
	if (data instanceof ArrayBuffer) for (const x of new Float32Array(data, 8)) {
		if (Math.abs(x) <= 0.01) quiet++;
		else {
			if (quiet >= 10000) window.sent.push(now());
			quiet = 0;
		}
	}
	send.call(this, data);
};
addEventListener("DOMContentLoaded", () => {
	const answer = document.getElementById("answer");
	let there = !answer.hidden;
	new MutationObserver(() => {
		if (there !== answer.hidden) return;
		there = !answer.hidden;
		if (!there) return;
		const shown = now();
		requestAnimationFrame(() => {
			const after = new MessageChannel();
			after.port1.onmessage = () => window.painted.push([shown, now()]);
			after.port2.postMessage(0);
		});
	}).observe(answer, { attributes: true, attributeFilter: ["hidden"] });
});`

// openPage opens the player's page and, where it is the microphone, allows it.
func (h *heldRoom) openPage(address string, m microphone) {
	h.browser = browser.Open(h.b, chromedp.Flag("use-fake-ui-for-media-stream", true))
	h.browser.Inject(m.script + watched)
	h.browser.Go(address)
	if m.page {
		h.browser.Until("microphone on", `(() => {
			const mic = document.getElementById("mic");
			if (mic?.dataset.mic === "idle") mic.querySelector("button").click();
			return mic?.dataset.mic === "live";
		})()`)
	}
}

// render writes the note to play.
func (h *heldRoom) render(noteSeconds float64) {
	const rate = soundcard.Overheard
	note := held(233.0819, rate, noteSeconds)
	h.note = writeWAV(h.b, "note.wav", note, rate)
	first := slices.IndexFunc(note, isLoud)
	slices.Reverse(note)
	last := len(note) - slices.IndexFunc(note, isLoud)
	h.length = seconds(float64(last-first) / rate)
}

// loudness is what counts as sound: a fiftieth of the note's own.
const loudness = 0.01

func isLoud(x float64) bool { return math.Abs(x) > loudness }

// attack finds the first loud sample after quiet.
type attack struct{ quiet int }

// calmBefore is how many quiet samples come before a note: a quarter of a
// second at 48 kHz, as the file has them.
const calmBefore = 10000

// find returns the place of the first sample of a note, -1 when none begins.
func (a *attack) find(samples []float64) int {
	at := -1
	for i, x := range samples {
		switch {
		case !isLoud(x):
			a.quiet++
		case a.quiet >= calmBefore:
			at, a.quiet = i, 0
		default:
			a.quiet = 0
		}
	}
	return at
}

// onsets notes at which sample of its source the last note began.
type onsets struct {
	capture.Source
	attack attack
	mu     sync.Mutex
	last   int64     // sample
	at     time.Time // when it came here
	latest time.Time // when the latest samples did
}

func (o *onsets) Read(ctx context.Context) (capture.Block, error) {
	b, err := o.Source.Read(ctx)
	o.mu.Lock()
	defer o.mu.Unlock()
	o.latest = time.Now()
	if at := o.attack.find(b.Samples); at >= 0 {
		o.last, o.at = b.First+int64(at), o.latest
	}
	return b, err
}

// witness notes when the last note began in the room.
func (h *heldRoom) witness(samples []float64, at time.Time) {
	if i := h.ears.find(samples); i >= 0 {
		h.mu.Lock()
		h.sounded = at.Add(-seconds(float64(len(samples)-i) / soundcard.Overheard))
		h.mu.Unlock()
	}
}

// heard keeps the node's last reading and when it was there.
func (h *heldRoom) heard(e node.Heard) {
	if e.Reading != nil {
		h.mu.Lock()
		defer h.mu.Unlock()
		h.reading, h.decided, h.computed = *e.Reading, h.source.latest, time.Now()
	}
}

// answered is what became of one note.
type answered struct {
	end    time.Time
	stages map[string]time.Time
}

// play calls, plays the note and waits for its answer; not ok when there was
// no settled one.
func (h *heldRoom) play() (a answered, ok bool) {
	if err := h.station.hub.Command(h.b.Context(), hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: 58}}); err != nil {
		h.b.Fatal(err)
	}
	h.browser.Until("the note is called", `document.getElementById("answer").hidden`)
	browser.Eval[int](h.browser, "window.sent.length = window.painted.length = 0")
	h.card.Play(h.note)
	time.Sleep(time.Second) // what has not come by now is missing
	painted := browser.Eval[[][2]float64](h.browser, "window.painted")
	sent := browser.Eval[[]float64](h.browser, "window.sent")
	h.mu.Lock()
	defer h.mu.Unlock()
	h.source.mu.Lock()
	defer h.source.mu.Unlock()
	if len(painted) != 1 || !h.reading.Settled {
		h.b.Logf("no answer: %d paints, reading settled: %v, %q", len(painted), h.reading.Settled, h.reading.Reason)
		return answered{}, false
	}
	length := h.length
	if length > seconds(listen.DefaultHoldFor) {
		length = seconds(float64(h.reading.End-h.source.last) / h.source.Info().Rate)
	}
	a = answered{end: h.sounded.Add(length), stages: map[string]time.Time{
		"arrived": h.source.at.Add(length), "decided": h.decided, "computed": h.computed,
		"shown": pageTime(painted[0][0]), "painted": pageTime(painted[0][1]),
	}}
	if len(sent) == 1 {
		a.stages["sent"] = pageTime(sent[0]).Add(length)
	}
	return a, true
}

// pageTime is a moment in a page, in milliseconds.
func pageTime(ms float64) time.Time { return time.UnixMicro(int64(1000 * ms)) }

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
