// Package simulate puts whole simulated players on a stage: each hears the
// room through a microphone of its own, as a capture.Source, and sounds when
// told to. It is what the demo and the end-to-end tests play on.
//
// The parts lie below: node/simulate/tone makes the sound, node/simulate/room
// the room, node/simulate/player the habits.
package simulate

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"sync"
	"time"

	"bellrow/node/capture"
	"bellrow/node/simulate/room"
	"bellrow/node/simulate/tone"
)

// blockSeconds is the length of the blocks a stage is rendered in.
const blockSeconds = 0.01

// queueBlocks is how many blocks a microphone may lag before blocks are lost:
// one second, far more than a healthy node ever needs.
const queueBlocks = 100

// Config sets up a Stage.
type Config struct {
	Rate  float64 // samples per second
	Seats []room.Seat
	Mics  []room.Mic
	RT60  float64
	Seed  uint64
	// Speed is how many seconds of audio pass in one second; 0 means 1.
	Speed float64
	// Clock, if not nil, goes on with the sound, and the stage waits for its
	// microphones to be read: Speed is then the most.
	Clock *Clock
}

// Stage renders a room in real time. Run drives it; voices and sources may be
// used from any goroutine.
type Stage struct {
	config  Config
	room    *room.Room
	voices  []*Voice
	sources []*Source
}

// NewStage seats one voice and one source for each seat.
func NewStage(c Config) (*Stage, error) {
	if len(c.Seats) == 0 {
		return nil, errors.New("simulate: stage without seats, need at least one")
	}
	if c.Speed == 0 {
		c.Speed = 1
	}
	s := &Stage{config: c}
	streams := make([]room.Stream, len(c.Seats))
	for i := range c.Seats {
		v := &Voice{rate: c.Rate}
		s.voices = append(s.voices, v)
		streams[i] = v
		s.sources = append(s.sources, newSource(c.Rate, fmt.Sprintf("simulated microphone %d", i+1)))
	}
	r, err := room.New(room.Config{
		Rate: c.Rate, RT60: c.RT60, Mode: room.Live, Seats: c.Seats, Mics: c.Mics, Seed: c.Seed,
		LevelDB: 20 * math.Log10(room.BellToMic), // so that a voice keeps its level at its own microphone
	}, streams)
	if err != nil {
		return nil, err
	}
	s.room = r
	return s, nil
}

// Voice returns what sounds at seat i.
func (s *Stage) Voice(i int) *Voice { return s.voices[i] }

// Source returns the microphone at seat i.
func (s *Stage) Source(i int) *Source { return s.sources[i] }

// Run renders the room until ctx is done, then ends the sources.
func (s *Stage) Run(ctx context.Context) error {
	n := int(math.Round(s.config.Rate * blockSeconds))
	dst := make([][]float64, len(s.sources))
	every := time.Duration(float64(time.Second) * blockSeconds / s.config.Speed)
	tick := time.NewTicker(every)
	defer tick.Stop()
	start, done := time.Now(), 0
	for {
		select {
		case <-ctx.Done():
			for _, src := range s.sources {
				src.end()
			}
			return ctx.Err()
		case <-tick.C:
		}
		// A ticker drops ticks under load; the clock says how many are due.
		for due := int(time.Since(start) / every); done < due; done++ {
			if s.config.Clock != nil && !s.read() {
				start = time.Now().Add(-time.Duration(done) * every) // nobody catches up
				break
			}
			for i := range dst {
				dst[i] = make([]float64, n)
			}
			s.room.Read(dst)
			for i, src := range s.sources {
				src.put(dst[i])
			}
			if s.config.Clock != nil {
				s.config.Clock.Pass(time.Duration(blockSeconds * float64(time.Second)))
			}
		}
	}
}

// fewBlocks may wait to be read while a stage with a clock of its own goes on.
const fewBlocks = 5

// read reports whether every microphone has been read but for a few blocks.
func (s *Stage) read() bool {
	for _, src := range s.sources {
		if len(src.blocks) > fewBlocks {
			return false
		}
	}
	return true
}

// Voice is one simulated player's sound: a tone while it plays, silence
// otherwise.
type Voice struct {
	rate float64
	mu   sync.Mutex
	tone *tone.Tone
}

// Play starts a note. It ends when Duration and the tail of the tone are over.
func (v *Voice) Play(c tone.Config) error {
	c.Rate = v.rate
	t, err := tone.New(c)
	if err != nil {
		return err
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	v.tone = t
	return nil
}

// Sounding reports whether a note is under way.
func (v *Voice) Sounding() bool {
	v.mu.Lock()
	defer v.mu.Unlock()
	return v.tone != nil
}

// Read implements room.Stream.
func (v *Voice) Read(dst []float64) {
	v.mu.Lock()
	defer v.mu.Unlock()
	n := 0
	if v.tone != nil {
		n = v.tone.Read(dst)
		if n < len(dst) {
			v.tone = nil
		}
	}
	clear(dst[n:])
}

// Source is one microphone on the stage. It implements capture.Source.
type Source struct {
	info   capture.Info
	blocks chan capture.Block
	closed chan struct{}
	ended  chan struct{}
	once   sync.Once
	finish sync.Once

	// Owned by the stage's goroutine.
	next, lost int64
}

func newSource(rate float64, name string) *Source {
	return &Source{
		info:   capture.Info{Rate: rate, Name: name, Live: true},
		blocks: make(chan capture.Block, queueBlocks),
		closed: make(chan struct{}), ended: make(chan struct{}),
	}
}

// Info describes the microphone.
func (s *Source) Info() capture.Info { return s.info }

// put queues a block, or counts it as lost when the reader lags.
func (s *Source) put(samples []float64) {
	b := capture.Block{Samples: samples, First: s.next, Lost: s.lost}
	s.next += int64(len(samples))
	select {
	case s.blocks <- b:
		s.lost = 0
	default:
		s.lost += int64(len(samples))
	}
}

func (s *Source) end() { s.finish.Do(func() { close(s.ended) }) }

// Read returns the next block.
func (s *Source) Read(ctx context.Context) (capture.Block, error) {
	select {
	case <-s.closed:
		return capture.Block{}, io.EOF
	default:
	}
	select {
	case b := <-s.blocks:
		return b, nil
	case <-s.closed:
		return capture.Block{}, io.EOF
	case <-s.ended:
		return capture.Block{}, io.EOF
	case <-ctx.Done():
		return capture.Block{}, ctx.Err()
	}
}

// Close ends the source.
func (s *Source) Close() error {
	s.once.Do(func() { close(s.closed) })
	return nil
}
