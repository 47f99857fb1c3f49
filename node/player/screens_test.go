package player_test

import (
	"context"
	"net/http/httptest"
	"sync"
	"testing"

	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/page/browser"
)

// fake notes what the page asked for.
type fake struct {
	mu       sync.Mutex
	settings []proto.Setting
	paused   []bool
	warm     int
	mutes    []string
	wishes   []player.Wish
}

func (f *fake) SetSetting(_ context.Context, s proto.Setting) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.settings = append(f.settings, s)
	return nil
}

func (f *fake) SetNames(string) {}

func (f *fake) SetLanguage(string, bool) {}

func (f *fake) Pause(on bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.paused = append(f.paused, on)
}

func (f *fake) SetMute(m string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.mutes = append(f.mutes, m)
}

func (f *fake) Warm() {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.warm++
}

func (f *fake) Join(_ context.Context, w player.Wish) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.wishes = append(f.wishes, w)
	return nil
}

func serve(t testing.TB, n player.Node) (*player.Server, string) {
	t.Helper()
	s, err := player.New(player.Config{Node: n})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	t.Cleanup(srv.Close)
	return s, srv.URL + s.Path()
}

var seat = player.Wish{Name: "Bram", Part: "2nd trumpet", Instrument: "trumpet_bb"}

var mainSlide = proto.Slide{ID: instrument.Main, Name: "main slide", FromMM: 13, ToMM: 13, TravelMM: 50}

func moved(mm float64) proto.Slide {
	s := mainSlide
	s.ToMM += mm
	return s
}

var play = proto.View{Section: "Saturday brass", Chair: "Trumpet 2", Round: 3, Phase: "play", Listen: true,
	Say: "Play your C, relaxed, and hold it.", Written: "C5", Concert: "B♭4", Fingering: "open", Slides: []proto.Slide{mainSlide}}

// scenes are moments of a player's tune-up.
var scenes = []struct {
	name  string
	view  proto.View
	sound listen.State
	link  player.LinkState
}{
	{"join", proto.View{}, listen.Quiet, player.LinkFound},
	{"idle", proto.View{Section: "Saturday brass", Chair: "Trumpet 2", Phase: "idle", Say: "Warm up. The leader will call a note."}, listen.Quiet, player.LinkJoined},
	{"wait", proto.View{Section: "Saturday brass", Chair: "Trumpet 2", Round: 3, Phase: "wait", Say: "Rest. Tuba plays now; you are third.", Written: "C5", Concert: "B♭4"}, listen.Quiet, player.LinkJoined},
	{"play", play, listen.Quiet, player.LinkJoined},
	{"sounding", play, listen.Sounding, player.LinkJoined},
	{"pull", answered(proto.Answer{ID: 7, Kind: "move", Headline: "Pull the main slide 6 mm.", Detail: "Your C is a little sharp, on both tries.",
		Next: "Move it, then play your C again when it is called.", Small: "+14 ±2 cents, from 13 mm out", Moves: []proto.Slide{moved(6)}}), listen.Quiet, player.LinkJoined},
	{"push", answered(proto.Answer{ID: 8, Kind: "move", Headline: "Push the main slide 4 mm.", Small: "−9 ±2 cents", Moves: []proto.Slide{moved(-4)}}), listen.Quiet, player.LinkJoined},
	{"set", answered(proto.Answer{ID: 9, Kind: "stay", Headline: "Set. Leave the main slide.", Next: "Rest until the chord.", Small: "+2 ±2 cents"}), listen.Quiet, player.LinkJoined},
	{"again", answered(proto.Answer{ID: 10, Kind: "again", Headline: "Play it once more, without vibrato.", Detail: "Vibrato is no fault, only no tuning note.", Next: "Breathe first."}), listen.Quiet, player.LinkJoined},
	{"lost", play, listen.Quiet, player.LinkLost},
}

func answered(a proto.Answer) proto.View {
	v := play
	v.Phase, v.Say, v.Answer, v.Listen = "answer", a.Headline, &a, false
	return v
}

// TestScreens shows every moment of a tune-up in every size and writes
// screenshots for somebody to look at.
func TestScreens(t *testing.T) {
	b := browser.Open(t)
	s, url := serve(t, &fake{})
	s.ShowSeat(seat)
	b.Go(url)
	for _, sc := range scenes {
		s.ShowLink(player.Link{State: sc.link, Hub: "Saturday brass"})
		s.ShowView(sc.view)
		s.ShowSound(player.Sound{State: sc.sound, Device: "Built-in microphone", Level: -22, Floor: -61})
		want := sc.view.Phase
		if want == "" {
			want = "idle"
		}
		b.Until(sc.name, "document.body.dataset.phase==='"+want+"' && document.querySelector('main:not([hidden])')")
		for _, size := range []struct {
			name          string
			width, height int64
		}{{"360", 360, 740}, {"820", 820, 1180}, {"1366", 1366, 768}, {"1920", 1920, 1080}, {"zoom200", 683, 384}} {
			b.Size(size.width, size.height)
			for _, theme := range []string{"stage", "paper"} {
				if theme == "paper" && size.name != "1366" {
					continue
				}
				b.Theme(theme)
				b.Shot("player-" + sc.name + "-" + size.name + "-" + theme)
			}
			if w := browser.Eval[float64](b, "document.documentElement.scrollWidth"); w > float64(size.width) {
				t.Errorf("%s at %s px is %g px wide and would scroll sideways", sc.name, size.name, w)
			}
		}
	}
}

// TestStaffHasItsClef: each clef is drawn around the line it names: G4 on the
// second line, F3 on the fourth, C4 on the third or fourth (any primer of music).
func TestStaffHasItsClef(t *testing.T) {
	b := browser.Open(t)
	_, url := serve(t, &fake{})
	b.Go(url)
	for clef, step := range map[string]int{"treble": 2, "bass": 6, "alto": 4, "tenor": 6} {
		browser.Eval[bool](b, `import("./draw.js").then(({ drawStaff }) => {
			const staff = document.createElementNS("http://www.w3.org/2000/svg", "svg");
			drawStaff(staff, { clef: "`+clef+`", step: 4, ledgers: [] });
			window.`+clef+` = Number(/translate\(0 (-?\d+)\)/.exec(staff.querySelector(".clef").getAttribute("transform"))[1]);
		}), true`)
		b.Until("the clef", "window."+clef+" !== undefined")
		at := browser.Eval[float64](b, "window."+clef)
		// The bottom line lies at 80, a step is 10 high.
		if want := float64(80 - 10*step); at != want {
			t.Errorf("the %s clef is drawn around y = %g, need %g", clef, at, want)
		}
	}
}
