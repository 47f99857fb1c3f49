package network

import (
	"bufio"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"bellrow/node/capture"
	"bellrow/proto/page/browser"
	"bellrow/proto/pitch"
	"bellrow/testdata/require"
	"bellrow/testdata/soundcard"
)

// The first evening, as a leader, two players with laptops and one with a
// telephone live through it who have only the pages: each on a host of its own,
// real recorded notes through a sound card of software into Chromium, and
// robots that do what the page says, like somebody who reads it for the first
// time: no robot looks at anything but the page. What every page said, and when,
// is the transcript.

// actorEnv makes the test binary one of the people of the evening.
const actorEnv = "BELLROW_EVENING_ACTOR"

// actor is one of them.
type actor struct {
	Name       string // of the player; "leader"
	URL        string // of the page to open
	Code       string
	Instrument string      // its ID
	Family     string      // of the recorded notes
	Off        pitch.Cents // how far the instrument stands off at first
	Stage      string      // folder with what has happened so far
	Notes      string      // folder of recorded notes
	Host       string      // a telephone's hub; empty on a laptop
}

// said is one thing that a page said.
type said struct {
	At   int64  `json:"at"` // ms of the one clock that all share
	Who  string `json:"who"`
	What string `json:"what"` // the place on the page, or what a robot did
	Text string `json:"text"`
}

// saying tells of all that can be read on a page whenever it changes.
const saying = `if (window === top) setInterval(() => {
	const places = ["say", "linkwords", "why", "link", "offline", "refused", "gone", "moves", "next", "small", "warming", "count", "facts"];
	const seen = window.seen_ ??= {};
	const tell = (what, e) => {
		const text = e && e.checkVisibility({ visibilityProperty: true }) ? e.innerText.replace(/\s+/g, " ").trim() : "";
		if (seen[what] === text) return;
		seen[what] = text;
		if (text) console.log("SAID" + JSON.stringify({ at: Date.now(), what, text }));
	};
	for (const id of places) tell(id, document.getElementById(id));
	tell("microphone", document.querySelector("#mic .mic-words"));
	for (const line of document.querySelectorAll("li.line")) tell(line.querySelector(".label").textContent, line.querySelector(".words"));
}, 100);`

// evening is one actor at work.
type evening struct {
	t *testing.T
	actor
	b    *browser.Browser
	card *soundcard.Card
}

func (e *evening) tell(what, text string) {
	line, _ := json.Marshal(said{time.Now().UnixMilli(), e.Name, what, text})
	fmt.Printf("SAID%s\n", line)
}

// happened reports whether something has happened by now; Stage has a file for it.
func (e *evening) happened(what string) bool {
	_, err := os.Stat(filepath.Join(e.Stage, what))
	return err == nil
}

// mark lets something happen for all.
func mark(stage, what string) { os.WriteFile(filepath.Join(stage, what), nil, 0o600) }

// TestEveningActor is no test: it is one of the people of TestFirstEvening.
func TestEveningActor(t *testing.T) {
	text := os.Getenv(actorEnv)
	if text == "" {
		t.Skip("a part of TestFirstEvening")
	}
	e := &evening{t: t}
	if err := json.Unmarshal([]byte(text), &e.actor); err != nil {
		t.Fatal(err)
	}
	flags := []chromedp.ExecAllocatorOption{chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("ignore-certificate-errors", true)}
	if e.Name != "leader" {
		e.card = soundcard.Start(t)
	}
	e.b = browser.OpenFor(t, 10*time.Minute, flags...)
	if e.Host != "" {
		e.b.Allow(e.Host)
	}
	if err := chromedp.Listen(e.b.Context(), func(ev any) {
		c, ok := ev.(*runtime.EventConsoleAPICalled)
		if !ok || len(c.Args) == 0 {
			return
		}
		var text string
		if json.Unmarshal([]byte(c.Args[0].Value), &text) != nil || !strings.HasPrefix(text, "SAID") {
			return
		}
		var s said
		if json.Unmarshal([]byte(text[len("SAID"):]), &s) == nil {
			s.Who = e.Name
			line, _ := json.Marshal(s)
			fmt.Printf("SAID%s\n", line)
		}
	}); err != nil {
		t.Fatal(err)
	}
	e.b.Inject(saying)
	e.b.Go(e.URL)
	if e.Name == "leader" {
		e.lead()
		return
	}
	e.play()
}

// lead calls the first note once everybody is here, and waits for the end.
func (e *evening) lead() {
	e.b.Until("the row", `document.getElementById("calls") !== null`)
	for !e.happened("end") {
		switch {
		case !e.happened("called") && e.happened("seated"):
			e.b.Until("all are here", `document.querySelectorAll("li.line").length === 3 && !document.querySelector('[data-state="away"]')`)
			e.b.Run(chromedp.Click(chromedp.CSS("#calls button")))
			e.tell("does", "calls the first tuning note")
			mark(e.Stage, "called")
		case e.happened("two set") && !e.happened("over") && browser.Eval[bool](e.b, `document.querySelector('[data-do="next"]').disabled`):
			e.tell("sees", "the tune-up is over")
			mark(e.Stage, "over")
		case !e.happened("two set") && browser.Eval[bool](e.b, `document.querySelectorAll('li.line[data-verdict="set"]').length >= 2`):
			e.tell("sees", "two players set")
			mark(e.Stage, "two set")
		}
		time.Sleep(100 * time.Millisecond)
	}
}

// page is what a player reads.
type page struct {
	Stage, Phase, Sounds, Written string
	Move, Warm, Silent            bool
}

const reading = `(() => {
	const shown = (id) => { const e = document.getElementById(id); return Boolean(e) && e.checkVisibility(); };
	const words = document.getElementById("note-words")?.textContent ?? "";
	return {
		Stage: shown("join") ? "join" : shown("play") ? "play" : "", Phase: document.body.dataset.phase ?? "",
		Written: shown("note") ? document.getElementById("note-name").textContent : "", Sounds: /sounds ([^ ]+)/.exec(words)?.[1] ?? "",
		Move: shown("moved"), Warm: shown("warm"), Silent: document.body.dataset.dark === undefined,
	};
})()`

func (e *evening) read() page { return browser.Eval[page](e.b, reading) }

// play does what the player's page says, until the evening ends.
func (e *evening) play() {
	e.sit()
	mark(e.Stage, "sits "+e.Name)
	slept, unplugged := false, false
	for !e.happened("end") {
		p := e.read()
		switch {
		case p.Warm:
			e.tell("does", "presses: I am warm")
			e.press("warm")
		case p.Move:
			time.Sleep(2 * time.Second) // the hand on the slide
			e.tell("does", "moves the slide, and says so")
			e.press("moved")
			e.Off = 1 // as well as a slide is set
		case p.Phase == "play" && p.Silent && p.Written != "":
			e.sound(p)
			time.Sleep(500 * time.Millisecond)
		case !unplugged && e.Name == "Ada" && e.happened("over"):
			unplugged = true
			e.tell("does", "pulls the microphone out")
			e.card.PullOut()
			e.b.Until("the loss is said", `document.getElementById("mic").dataset.mic !== "live"`)
			e.tell("does", "plugs it in again")
			e.card.PlugIn()
			e.b.Until("the microphone again", `document.getElementById("mic").dataset.mic === "live"`)
			mark(e.Stage, "microphone is back")
		case !slept && e.Host != "" && e.happened("sleep"):
			slept = true
			e.tell("does", "puts the telephone to sleep")
			e.lifecycle(cdppage.SetWebLifecycleStateStateFrozen)
			mark(e.Stage, "asleep")
			for !e.happened("wake") && !e.happened("end") {
				time.Sleep(100 * time.Millisecond)
			}
			e.lifecycle(cdppage.SetWebLifecycleStateStateActive)
			e.tell("does", "wakes the telephone")
		case e.happened("restarted") && (e.Host == "" || slept) && !e.happened("back "+e.Name):
			if browser.Eval[bool](e.b, `document.getElementById("link")?.textContent === "connected" && document.getElementById("offline").hidden`) {
				e.tell("sees", "connected again")
				mark(e.Stage, "back "+e.Name)
			}
		}
		time.Sleep(100 * time.Millisecond)
	}
}

func (e *evening) lifecycle(state cdppage.SetWebLifecycleStateState) {
	if _, err := chromedp.Call(e.b.Context(), cdppage.SetWebLifecycleState, cdppage.SetWebLifecycleStateParams{State: state}); err != nil {
		e.t.Fatal(err)
	}
}

func (e *evening) press(id string) {
	browser.Eval[bool](e.b, `(document.getElementById("`+id+`").click(), true)`)
}

// sit takes a seat: with a telephone by way of the door.
func (e *evening) sit() {
	if e.Host != "" {
		e.b.Until("the code from the link", `document.getElementById("code")?.value.length >= 6`)
		browser.Eval[bool](e.b, `(document.querySelector("#door button").click(), true)`)
	}
	e.b.Until("the form", `document.getElementById("join") && !document.getElementById("join").hidden && document.querySelector('input[value="`+e.Instrument+`"]')`)
	browser.Eval[bool](e.b, fmt.Sprintf(`(() => {
		document.getElementById("name").value = %q;
		document.querySelector('input[value=%q]').click();
		if (!document.getElementById("code").value) document.getElementById("code").value = %q;
		document.getElementById("sit").click();
		return true;
	})()`, e.Name, e.Instrument, e.Code))
	e.tell("does", "presses: Sit down")
	e.b.Until("a seat", `!document.getElementById("play").hidden`)
	e.tell("sees", "sits")
	e.b.Until("the microphone", `(() => {
		const mic = document.getElementById("mic");
		if (mic?.dataset.mic === "idle") mic.querySelector("button").click();
		return mic?.dataset.mic === "live";
	})()`)
}

// sound plays the note that the page asks for, as this instrument gives it now:
// the recorded note nearest to it, moved there.
func (e *evening) sound(p page) {
	e.t.Helper()
	name := p.Sounds
	if name == "" {
		name = p.Written
	}
	want, err := pitch.ParseNote(name)
	if err != nil {
		e.t.Fatalf("the page asks for %q: %v", name, err)
	}
	rec := nearest(e.t, e.Notes, e.Family, (pitch.Reference{}).Frequency(want))
	to := (pitch.Reference{}).Frequency(want).Shift(e.Off)
	e.tell("does", fmt.Sprintf("plays %s, %+.0f cents (%s)", want.Display(), float64(e.Off), filepath.Base(rec.file)))
	path := filepath.Join(e.t.TempDir(), "note.wav")
	if err := moved(e.t.Context(), rec.file, path, float64(to/rec.hz)); err != nil {
		e.t.Fatal(err)
	}
	e.card.Play(path)
}

// recorded is a recorded note of a real player.
type recorded struct {
	file string
	hz   pitch.Hertz
}

// nearest finds the recorded note of a family that lies nearest to a pitch.
func nearest(t *testing.T, dir, family string, to pitch.Hertz) recorded {
	t.Helper()
	f, err := os.Open(filepath.Join(dir, "manifest.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	file, in, hz := slices.Index(rows[0], "file"), slices.Index(rows[0], "instrument"), slices.Index(rows[0], "reference_hz")
	best, far := recorded{}, math.Inf(1)
	for _, r := range rows[1:] {
		x, err := strconv.ParseFloat(r[hz], 64)
		if err != nil || r[in] != family {
			continue
		}
		if d := math.Abs(float64(pitch.Between(to, pitch.Hertz(x)))); d < far {
			best, far = recorded{filepath.Join(dir, r[file]), pitch.Hertz(x)}, d
		}
	}
	if best.file == "" {
		t.Fatalf("no recorded note of a %s", family)
	}
	return best
}

// moved writes a sound so that it is played at another speed, and so at another
// pitch: its samples with another rate in the head.
func moved(ctx context.Context, from, to string, ratio float64) error {
	src, err := capture.Open(from)
	if err != nil {
		return err
	}
	defer src.Close()
	rate := math.Round(src.Info().Rate * ratio)
	var samples []float64
	for {
		b, err := src.Read(ctx)
		if err != nil {
			break
		}
		samples = append(samples, b.Samples...)
	}
	f, err := os.Create(to)
	if err != nil {
		return err
	}
	if err := capture.WriteWAV(f, samples, rate); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// TestFirstEvening lives through it: seats within 10 s, the first move within a
// minute of the first call, two players set within three; a microphone is pulled
// out, the hub is killed and started again while a telephone sleeps, and all of
// them are back by themselves.
func TestFirstEvening(t *testing.T) {
	require.Alone(t)
	if why := missing(); why != "" {
		require.Missing(t, why)
	}
	notes, err := filepath.Abs("../../../../shared/audio/real")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(notes, "manifest.csv")); err != nil {
		t.Skip("the recorded notes of real players are not beside the project")
	}
	dir := t.TempDir()
	bellrow := filepath.Join(dir, "bellrow")
	if out, err := exec.Command("go", "build", "-o", bellrow, "bellrow/cmd/bellrow").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	l, err := newLAN()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(l.close)
	host := map[string]string{}
	for i, name := range []string{"leader", "Ada", "Bo", "Cy"} {
		if host[name], err = l.host(fmt.Sprintf("10.44.0.%d/24", i+1)); err != nil {
			t.Fatal(err)
		}
	}
	stage := filepath.Join(dir, "stage")
	if err := os.Mkdir(stage, 0o700); err != nil {
		t.Fatal(err)
	}
	run := func(who string, args ...string) *process {
		p, err := launch(host[who], "HOME="+filepath.Join(dir, who), append([]string{bellrow}, args...))
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	hub := func() *process {
		return run("leader", "hub", "--name", "Evening Brass", "--data", filepath.Join(dir, "hub"))
	}
	h := hub()
	t.Cleanup(func() { h.kill() })
	leaderURL := printed(t, h, `leader +(http\S+)`)
	leaderURL = strings.Replace(leaderURL, "10.44.0.1", "127.0.0.1", 1)
	code, phones := printed(t, h, `join code +(\S+)`), printed(t, h, `telephones +(https\S+)`)

	begun := time.Now()
	cast := []actor{
		{Name: "leader", URL: leaderURL},
		{Name: "Ada", Instrument: "trumpet_bb", Family: "trumpet", Off: 17},
		{Name: "Bo", Instrument: "tenor_trombone_bb", Family: "trombone", Off: -14},
		{Name: "Cy", Instrument: "horn_f", Family: "horn", Off: 9, URL: phones, Host: "10.44.0.1"},
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	var people []*process
	for _, a := range cast {
		a.Code, a.Stage, a.Notes = code, stage, notes
		if a.URL == "" {
			n := run(a.Name, "node", "--state", filepath.Join(dir, a.Name, "node"), "--page", "127.0.0.1:7442")
			t.Cleanup(n.kill)
			a.URL = printed(t, n, `Your page: (http\S+)`)
		}
		text, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		p, err := launch(host[a.Name], actorEnv+"="+string(text), []string{self, "-test.run=^TestEveningActor$", "-test.timeout=12m", "-test.v"})
		if err != nil {
			t.Fatal(err)
		}
		people = append(people, p)
	}
	t.Cleanup(func() {
		mark(stage, "end")
		for _, p := range people {
			p.stop(endWithin)
		}
		transcript(t, people, begun)
	})
	await := func(patience time.Duration, whats ...string) {
		t.Helper()
		late := time.Now().Add(patience)
		for _, what := range whats {
			for {
				if _, err := os.Stat(filepath.Join(stage, what)); err == nil {
					break
				}
				for i, p := range people {
					if !p.running() {
						t.Fatalf("%s left before: %s\n%s", cast[i].Name, what, p.out)
					}
				}
				if time.Now().After(late) {
					t.Fatalf("never came: %s", what)
				}
				time.Sleep(50 * time.Millisecond)
			}
		}
	}
	await(2*time.Minute, "sits Ada", "sits Bo", "sits Cy")
	mark(stage, "seated")
	await(time.Minute, "called")
	await(4*time.Minute, "two set", "over")
	await(time.Minute, "microphone is back")
	mark(stage, "sleep")
	await(time.Minute, "asleep")
	h.kill()
	time.Sleep(5 * time.Second)
	h = hub()
	printed(t, h, `join code +(\S+)`)
	mark(stage, "restarted")
	await(time.Minute, "back Ada", "back Bo")
	mark(stage, "wake")
	await(time.Minute, "back Cy")
	mark(stage, "end")

	for _, p := range people {
		p.stop(endWithin)
	}
	all := sayings(people)
	when := func(who, what, text string) int64 {
		i := slices.IndexFunc(all, func(s said) bool {
			return s.Who == who && (what == "" || s.What == what) && strings.Contains(s.Text, text)
		})
		if i < 0 {
			t.Errorf("%s never: %s %s", who, what, text)
			return 0
		}
		return all[i].At
	}
	within := func(what string, from, to int64, limit time.Duration) {
		took := time.Duration(to-from) * time.Millisecond
		t.Logf("%s: %.1f s, need %v", what, took.Seconds(), limit)
		if from == 0 || to == 0 || took > limit {
			t.Errorf("%s took %v, need %v", what, took, limit)
		}
	}
	for _, a := range cast[1:] {
		within(a.Name+" is seated after the press", when(a.Name, "does", "Sit down"), when(a.Name, "sees", "sits"), 10*time.Second)
	}
	called := when("leader", "does", "calls")
	moves := slices.IndexFunc(all, func(s said) bool { return s.What == "moves" })
	if moves < 0 {
		t.Fatal("nobody was given a move")
	}
	within("the first move after the first call", called, all[moves].At, time.Minute)
	within("two players set after the first call", called, when("leader", "sees", "two players set"), 3*time.Minute)
}

// printed waits until a process has printed something, and returns the group.
func printed(t *testing.T, p *process, pattern string) string {
	t.Helper()
	for late := time.Now().Add(5 * time.Minute); time.Now().Before(late); time.Sleep(20 * time.Millisecond) {
		if m := regexp.MustCompile(pattern).FindStringSubmatch(p.out.String()); m != nil {
			return m[1]
		}
	}
	t.Fatalf("never printed: %s\n%s", pattern, p.out)
	return ""
}

// sayings are what all pages said, in order of time.
func sayings(people []*process) (all []said) {
	for _, p := range people {
		lines := bufio.NewScanner(strings.NewReader(p.out.String()))
		for lines.Scan() {
			var s said
			if _, text, ok := strings.Cut(lines.Text(), "SAID"); ok && json.Unmarshal([]byte(text), &s) == nil {
				all = append(all, s)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b said) int { return int(a.At - b.At) })
	return all
}

// transcript logs what every page said and when, and keeps it with the artefacts.
func transcript(t *testing.T, people []*process, begun time.Time) {
	var b strings.Builder
	for _, s := range sayings(people) {
		fmt.Fprintf(&b, "%6.1f  %-7s %-12s %s\n", float64(s.At-begun.UnixMilli())/1000, s.Who, s.What, s.Text)
	}
	t.Log("\n" + b.String())
	if dir := os.Getenv(browser.Artefacts); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, "evening.txt"), []byte(b.String()), 0o644); err != nil {
			t.Error(err)
		}
	}
}
