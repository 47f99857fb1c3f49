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
	if v := s.view(s.study.Now()); v.Answer != nil {
		t.Errorf("before any note: %+v", v.Answer)
	}
	s.take(study.Note{Reading: slide.Reading{Reason: string(listen.ReasonVibrato)}})
	v := s.view(s.study.Now())
	if v.Answer == nil || v.Answer.Headline == "" || !strings.Contains(out.String(), v.Answer.Headline) || v.Answer.Next != v.Say {
		t.Errorf("after vibrato the page has %+v, the terminal %q", v.Answer, out.String())
	}
	p := s.study.Now()
	s.take(study.Note{Reading: slide.Reading{Hz: s.Study.Reference.Frequency(p.Note), CI95: 1, Settled: true}})
	if v := s.view(s.study.Now()); v.Answer != nil && v.Answer.Kind == string(slide.Again) {
		t.Errorf("after a note that counts: %+v", v.Answer)
	}
}
