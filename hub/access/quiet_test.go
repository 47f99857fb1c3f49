package access

import (
	"bytes"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"
)

func TestQuiet(t *testing.T) {
	clock := &hand{time.Unix(0, 0)}
	var out bytes.Buffer
	log := slog.New(Quiet(slog.NewTextHandler(&out, nil), clock.now))
	for i := range 100000 {
		log.With("from", fmt.Sprint(i)).Warn("a message was not understood", "n", i)
	}
	if n := strings.Count(out.String(), "\n"); n != logBurst {
		t.Errorf("%d lines of one wording", n)
	}
	out.Reset()
	log.Error("the disk is full")
	clock.forward(time.Hour)
	log.Warn("a message was not understood")
	if s := out.String(); !strings.Contains(s, "disk") || !strings.Contains(s, "like_it_left_out=99980") {
		t.Errorf("%s", s)
	}
	out.Reset()
	for i := range 100000 {
		log.Warn(fmt.Sprint("made up ", i))
	}
	if n := strings.Count(out.String(), "\n"); n > maxWordings+logBurst {
		t.Errorf("%d lines of made-up wordings", n)
	}
}
