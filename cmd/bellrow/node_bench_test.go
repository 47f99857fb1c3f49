//go:build linux

package main

import (
	"bufio"
	"context"
	"fmt"
	"log/slog"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/node/mic"
	"bellrow/testdata/soundcard"
)

// BenchmarkNode runs the program itself, as it is packaged, as the node of one
// player who is called and plays every ten seconds, for as long as -benchtime
// says, and reports what the process cost: the share of one core, start
// included; its resident memory at the end and at its highest; and how much of
// that is its own, not mapped from the program and its libraries. Built with
// the native microphone it listens to a virtual sound card, else to its page.
func BenchmarkNode(b *testing.B) {
	log := slog.New(slog.DiscardHandler)
	s, err := openStation(b.Context(), stationConfig{listen: "127.0.0.1:0", data: b.TempDir(), section: "Long rehearsal", log: log})
	if err != nil {
		b.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { s.run(ctx) })
	b.Cleanup(func() { stop(); running.Wait() })
	program := buildProgram(b)
	play := func() {}
	if mic.Native {
		play = throughSoundCard(b)
	}
	began := time.Now()
	n, page := startNode(b, program, s)
	if !mic.Native {
		play = throughPage(b, ctx, &running, page)
	}
	chairs(b, s, "the player has a seat", func(c []show.ChairRow) bool { return len(c) == 1 && c[0].State != "away" })
	calls := 0
	for b.Loop() {
		next := time.After(10 * time.Second)
		if err := s.hub.Command(ctx, hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: 58}}); err != nil {
			b.Fatal(err)
		}
		calls++
		play()
		<-next
	}
	memory := memoryMB(b, n.Process.Pid)
	n.Process.Signal(os.Interrupt)
	n.Wait()
	used := n.ProcessState.UserTime() + n.ProcessState.SystemTime()
	readings, err := s.store.Readings(ctx, s.hub.Section().ID, time.Time{})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(100*used.Seconds()/time.Since(began).Seconds(), "%core")
	b.ReportMetric(memory["VmRSS"], "MB")
	b.ReportMetric(memory["VmHWM"], "MB-highest")
	b.ReportMetric(memory["RssAnon"], "MB-own")
	b.ReportMetric(float64(len(readings))/float64(calls), "readings/call")
	b.ReportMetric(0, "ns/op")
}

// buildProgram builds bellrow as it is packaged, with this build's microphone.
func buildProgram(b *testing.B) string {
	path := filepath.Join(b.TempDir(), "bellrow")
	tags := ""
	if mic.Native {
		tags = "portaudio"
	}
	if out, err := exec.Command("go", "build", "-trimpath", "-ldflags=-s -w", "-tags", tags, "-o", path, ".").CombinedOutput(); err != nil {
		b.Fatalf("go build: %v: %s", err, out)
	}
	return path
}

// startNode starts a node and returns it and the address of its page.
func startNode(b *testing.B, program string, s *station) (*exec.Cmd, string) {
	n := exec.Command(program, "node", "--chair", "Trombone", "--instrument", "tenor_trombone_bb", "--warm",
		"--hub", s.playersLink().String(), "--no-search", "--state", b.TempDir())
	n.Stderr = os.Stderr
	out, err := n.StdoutPipe()
	if err == nil {
		err = n.Start()
	}
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { n.Process.Kill() })
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if page, ok := strings.CutPrefix(lines.Text(), "Your page: "); ok {
			go func() {
				for lines.Scan() {
				}
			}()
			return n, page
		}
	}
	b.Fatal("the node names no page")
	return nil, ""
}

// turn is what a player of the benchmark plays within ten seconds.
func turn() []float64 {
	const rate = 48000
	return append(held(233.0819, rate, 2.6), make([]float64, rate*69/10)...)
}

// throughPage is the microphone on the node's page without the browser: turns,
// one after the other, in real time.
func throughPage(b *testing.B, ctx context.Context, running *sync.WaitGroup, page string) (play func()) {
	conn, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(page, "http")+"mic", nil)
	if err != nil {
		b.Fatal(err)
	}
	if err := conn.WriteMessage(websocket.TextMessage, []byte(`{"v":1,"rate":48000,"device":"load","format":"s16"}`)); err != nil {
		b.Fatal(err)
	}
	x := turn()
	samples := make([]int16, len(x))
	for i := range x {
		samples[i] = int16(math.Round(x[i] * math.MaxInt16))
	}
	p := &telephone{mic: conn}
	running.Go(func() { p.speak(ctx, samples) })
	return func() {}
}

// throughSoundCard plays a turn into the room each time it is called.
func throughSoundCard(b *testing.B) (play func()) {
	card := soundcard.Start(b)
	path := writeWAV(b, "turn.wav", turn(), 48000)
	return func() { card.Play(path) }
}

// memoryMB is what proc(5) tells of a process's memory.
func memoryMB(b *testing.B, pid int) map[string]float64 {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		b.Fatal(err)
	}
	mb := map[string]float64{}
	for line := range strings.Lines(string(status)) {
		var name string
		var kb float64
		if n, _ := fmt.Sscanf(line, "%s %f kB", &name, &kb); n == 2 {
			mb[strings.TrimSuffix(name, ":")] = kb / 1024
		}
	}
	return mb
}
