package access_test

import (
	"bytes"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"

	"bellrow/hub/access"
)

// TestPanicIsAnError: a fault of the hub stands in its log, nonsense of others does not.
func TestPanicIsAnError(t *testing.T) {
	var out safeBuffer
	s := access.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic("a fault") }), slog.New(slog.NewTextHandler(&out, nil)))
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	served := make(chan error)
	go func() { served <- s.Serve(l) }()
	if r, err := http.Get("http://" + l.Addr().String()); err == nil {
		r.Body.Close()
		t.Error("a panic was answered")
	}
	_ = s.Close()
	<-served
	if got := out.String(); !strings.Contains(got, "level=ERROR") || !strings.Contains(got, "a fault") {
		t.Errorf("the log says %q", got)
	}
}

type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (s *safeBuffer) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.Write(p)
}

func (s *safeBuffer) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.b.String()
}
