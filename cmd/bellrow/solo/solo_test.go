package solo

import (
	"io"
	"strings"
	"testing"

	"bellrow/hub/history/study"
	"bellrow/hub/slide"
	"bellrow/node/listen"
	"bellrow/proto/instrument"
)

// The page says why a note did not count, as the terminal does, until another
// one does.
func TestThePageSaysWhy(t *testing.T) {
	in, err := instrument.Find("trumpet_bb")
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	s, err := New(Config{Study: study.Config{Kind: study.Centre, Instrument: in}, Desk: NewDesk(), Out: io.Writer(&out)})
	if err != nil {
		t.Fatal(err)
	}
	for s.study.Now().Act != study.Play {
		s.study.Go()
	}
	if v := s.views(s.study.Now())(""); v.Answer != nil {
		t.Errorf("before any note: %+v", v.Answer)
	}
	s.take(study.Note{Reading: slide.Reading{Reason: string(listen.ReasonVibrato)}})
	v := s.views(s.study.Now())("")
	if v.Answer == nil || v.Answer.Headline == "" || !strings.Contains(out.String(), v.Answer.Headline) || v.Answer.Next != v.Say {
		t.Errorf("after vibrato the page has %+v, the terminal %q", v.Answer, out.String())
	}
	p := s.study.Now()
	s.take(study.Note{Reading: slide.Reading{Hz: s.Study.Reference.Frequency(p.Note), CI95: 1, Settled: true}})
	if v := s.views(s.study.Now())(""); v.Answer != nil && v.Answer.Kind == string(slide.Again) {
		t.Errorf("after a note that counts: %+v", v.Answer)
	}
}

// TestThePageSpeaksItsLanguage: what is asked changes with the language of the page, and the
// terminal stays English.
func TestThePageSpeaksItsLanguage(t *testing.T) {
	in, err := instrument.Find("trumpet_bb")
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	s, err := New(Config{Study: study.Config{Kind: study.Centre, Instrument: in}, Desk: NewDesk(), Out: &out})
	if err != nil {
		t.Fatal(err)
	}
	for s.study.Now().Act != study.Play {
		s.study.Go()
	}
	s.take(study.Note{Reading: slide.Reading{Hz: s.Study.Reference.Frequency(s.study.Now().Note), Reason: string(listen.ReasonVibrato)}})
	s.Desk.show(s.views(s.study.Now()))
	for tag, want := range map[string][2]string{
		"de": {"Schließ die Augen", "Vibrato; spiel es gerade. Noch einmal"}, "fr": {"Fermer les yeux", "vibrato\u202f; jouer droit. Encore une fois"},
		"es": {"Cierra los ojos", "vibrato; tócala recta. Otra vez"}, "": {"Close your eyes", "vibrato; play it straight. Once more"},
	} {
		s.Desk.SetLanguage(tag, true)
		if v := s.Desk.View(); v.Answer == nil || !strings.Contains(v.Say, want[0]) || !strings.Contains(v.Answer.Headline, want[1]) {
			t.Errorf("%q: the page says %q, %+v; need %q", tag, v.Say, v.Answer, want)
		}
	}
	if !strings.Contains(out.String(), "play it straight. Once more") {
		t.Errorf("the terminal says %q", out.String())
	}
}
