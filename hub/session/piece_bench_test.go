package session_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/mem"
	"bellrow/hub/session"
	"bellrow/proto/instrument"
)

// longPiece is an invented score for twelve parts: four quarters in each bar,
// major chords that wander.
func longPiece(bars int) string {
	steps := []string{"C", "D", "E", "F", "G", "A", "B"}
	var b strings.Builder
	b.WriteString(`<score-partwise><part-list>`)
	for p := range 12 {
		fmt.Fprintf(&b, `<score-part id="P%d"><part-name>Trombone %d</part-name></score-part>`, p, p+1)
	}
	b.WriteString(`</part-list>`)
	for p := range 12 {
		fmt.Fprintf(&b, `<part id="P%d">`, p)
		for bar := range bars {
			fmt.Fprintf(&b, `<measure number="%d">`, bar+1)
			if bar == 0 {
				b.WriteString(`<attributes><divisions>1</divisions></attributes>`)
			}
			for q := range 4 {
				fmt.Fprintf(&b, `<note><pitch><step>%s</step><octave>3</octave></pitch><duration>1</duration></note>`, steps[(bar*4+q+2*(p%3))%7])
			}
			b.WriteString(`</measure>`)
		}
		b.WriteString(`</part>`)
	}
	b.WriteString(`</score-partwise>`)
	return b.String()
}

// BenchmarkPiece reads, lists and plans 300 bars for twelve parts. With
// -benchtime 1x the plan is worked out, after that it is remembered.
func BenchmarkPiece(b *testing.B) {
	doc := longPiece(300)
	store := mem.New()
	h, err := session.New(b.Context(), session.Config{Store: store})
	if err != nil {
		b.Fatal(err)
	}
	for i := range 12 {
		name := fmt.Sprintf("Trombone %d", i+1)
		if _, err := h.Join(b.Context(), hub.Peer{Node: name, Boot: "b", Chair: name, Instrument: instrument.ID("tenor_trombone_bb")}); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		start := time.Now()
		if err := h.LoadPiece(b.Context(), strings.NewReader(doc)); err != nil {
			b.Fatal(err)
		}
		read := time.Now()
		if _, ok := h.Piece(); !ok {
			b.Fatal("no piece")
		}
		shown := time.Now()
		if _, err := h.PiecePlan(); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(read.Sub(start).Seconds()*1e3, "ms-read")
		b.ReportMetric(shown.Sub(read).Seconds()*1e3, "ms-list")
		b.ReportMetric(time.Since(shown).Seconds()*1e3, "ms-plan")
	}
	v, err := store.Value(b.Context(), fmt.Sprintf("piece/%d", h.Section().ID))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(len(v))/1024, "kB-kept")
}
