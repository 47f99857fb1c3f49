package show_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// TestRefusals: every refusal in the sources of hub/tuneup has its text, which in English
// is the error's own as a sentence, and in another language is another.
func TestRefusals(t *testing.T) {
	files, err := filepath.Glob("../tuneup/*.go")
	if err != nil {
		t.Fatal(err)
	}
	german := phrase.Leader.In("de", pitch.Style{})
	n := 0
	for _, f := range files {
		source, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`refuse\("([a-z-]+)", "([^"]*)"`).FindAllStringSubmatch(string(source), -1) {
			n++
			var figures []any
			if strings.Contains(m[2], "%") {
				figures = append(figures, 3)
			}
			refused := fmt.Errorf("hub: %w", &tuneup.Refusal{Code: m[1], Figures: figures})
			got, ok := show.Refused(refused, phrase.Tongue{})
			if want := phrase.Capital(fmt.Sprintf(m[2], figures...)) + "."; !ok || got != want {
				t.Errorf("%s: %q, need %q", m[1], got, want)
			}
			if other, _ := show.Refused(refused, german); other == got || strings.Contains(other, "refusal.") {
				t.Errorf("%s in German: %q", m[1], other)
			}
		}
	}
	if n < 10 {
		t.Errorf("%d refusals were found", n)
	}
	if _, ok := show.Refused(hub.ErrFull, german); ok {
		t.Error("a full disk is no refusal")
	}
	if !errors.As(error(tuneup.ErrNoPiece), new(*tuneup.Refusal)) || tuneup.ErrNoPiece.Error() != "tuneup: there is no piece; open one first" {
		t.Errorf("without a piece: %q", tuneup.ErrNoPiece)
	}
}
