//go:build unix

package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/proto/pitch"
)

// telephone is a player without a browser, for load: it speaks the pages' HTTP
// and the microphone's socket.
type telephone struct {
	base   string
	client *http.Client
	mic    *websocket.Conn
}

var anyKey = &tls.Config{InsecureSkipVerify: true} // the test's own hub on loopback

func (p *telephone) post(path string, body any) (map[string]any, error) {
	data, err := json.Marshal(body)
	if err != nil {
		return nil, err
	}
	r, err := p.client.Post(p.base+path, "application/json", bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil || r.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("post %s: status %d, %s, %w", path, r.StatusCode, text, err)
	}
	var answer map[string]any
	return answer, json.Unmarshal(text, &answer)
}

// sit takes a seat and opens the microphone.
func sit(link, name string) (*telephone, error) {
	u, err := url.Parse(link)
	if err != nil {
		return nil, err
	}
	p := &telephone{base: "https://" + u.Host, client: &http.Client{Transport: &http.Transport{TLSClientConfig: anyKey}}}
	entered, err := p.post("/enter", map[string]string{"code": strings.TrimPrefix(u.Fragment, "code=")})
	if err != nil {
		return nil, err
	}
	path, _ := entered["path"].(string)
	if _, err := p.post(path+"api/join", map[string]string{"name": name, "instrument": "tenor_trombone_bb", "code": "-"}); err != nil {
		return nil, err
	}
	dialer := websocket.Dialer{TLSClientConfig: anyKey}
	p.mic, _, err = dialer.Dial("wss://"+u.Host+path+"mic", http.Header{"Origin": {p.base}})
	if err != nil {
		return nil, err
	}
	return p, p.mic.WriteMessage(websocket.TextMessage, []byte(`{"v":1,"rate":48000,"device":"load","format":"s16"}`))
}

// answerPings reads what the node says until the socket ends.
func (p *telephone) answerPings() {
	for {
		if _, _, err := p.mic.ReadMessage(); err != nil {
			return
		}
	}
}

// speak sends frames of 1024 samples in real time until ctx is done.
func (p *telephone) speak(ctx context.Context, samples []int16) error {
	const frame, rate = 1024, 48000
	go p.answerPings()
	buf := make([]byte, 8+2*frame)
	start := time.Now()
	for first := 0; ctx.Err() == nil; first += frame {
		binary.LittleEndian.PutUint64(buf, uint64(first))
		for i := range frame {
			binary.LittleEndian.PutUint16(buf[8+2*i:], uint16(samples[(first+i)%len(samples)]))
		}
		time.Sleep(time.Until(start.Add(time.Duration(float64(first) / rate * float64(time.Second)))))
		if err := p.mic.WriteMessage(websocket.BinaryMessage, buf); err != nil {
			return err
		}
	}
	return p.mic.Close()
}

// BenchmarkTelephones seats players with telephones, lets all of them play at
// once, two seconds of every three, and reports the share of one core that
// hub, nodes and the telephones' own side take together, and what was heard.
func BenchmarkTelephones(b *testing.B) {
	for _, n := range []int{1, 10, 40} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			s, door := openDoor(b)
			ctx, stop := context.WithCancel(b.Context())
			var playing sync.WaitGroup
			for i := range n {
				p, err := sit(door.link(), fmt.Sprintf("Player %02d", i+1))
				if err != nil {
					b.Fatal(err)
				}
				samples := part(i)
				playing.Go(func() { p.speak(ctx, samples) })
			}
			chairs(b, s, "all have seats", func(c []show.ChairRow) bool {
				here := 0
				for _, r := range c {
					if r.State != "away" {
						here++
					}
				}
				return here == n
			})
			call := hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: 58, Together: true}}
			if err := s.hub.Command(ctx, call); err != nil {
				b.Fatal(err)
			}
			before, start := processor(), time.Now()
			b.ResetTimer()
			for b.Loop() {
				time.Sleep(15 * time.Second)
			}
			b.ReportMetric(100*(processor()-before).Seconds()/time.Since(start).Seconds(), "%core")
			readings, err := s.store.Readings(ctx, s.hub.Section().ID, time.Time{})
			if err != nil {
				b.Fatal(err)
			}
			heard := map[hub.ChairID]bool{}
			for _, r := range readings {
				heard[r.Chair] = heard[r.Chair] || r.Wire.Settled
			}
			b.ReportMetric(float64(len(heard)), "heard")
			stop()
			playing.Wait()
		})
	}
}

// part is what telephone i hears: its player's note, a little off as every
// player's is, and a second of rest.
func part(i int) []int16 {
	const rate = 48000
	off := pitch.Cents(float64(7*i%29) - 14)
	samples := make([]int16, 3*rate)
	for k, x := range held(float64(pitch.Hertz(233.08).Shift(off)), rate, 2) {
		samples[k] = int16(math.Round(x * math.MaxInt16))
	}
	return samples
}

// processor is the processor time this process has used.
func processor() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
