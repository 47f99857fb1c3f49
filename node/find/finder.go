package find

import (
	"context"
	"errors"
	"math/rand/v2"
	"net"
	"time"
)

// Config sets up a search.
type Config struct {
	// Typed is the hub the player named, Last the last good one; nil when there
	// is none.
	Typed, Last *Hub
	// Interfaces lists the interfaces to ask; nil means Interfaces.
	Interfaces func() []net.Interface
	// NoMulticast skips multicast DNS.
	NoMulticast bool
}

// Results of a search that found no hub to stay with.
var (
	ErrNothing  = errors.New("find: no hub answered")
	ErrDeclined = errors.New("find: hubs were found, but none could be used")
)

// headStart is what the typed hub has over the last one, and that over the
// network, unless it has failed before: an address from another day must not
// hold anybody up.
const headStart = time.Second

// maxTried bounds what one search of the network tries: somebody may announce
// hubs by the thousand.
const maxTried = 512

// Hubs searches once. It hands each candidate to try, the typed one first, then
// the last one, then all that answer on the network at once, until one try returns
// true; then it returns nil. Tries run concurrently, so that hubs that do not
// answer hold up nobody; their context ends when another has returned true.
// Hubs waits for all. Otherwise it returns ErrDeclined, ErrNothing,
// ErrNoMulticast or the error of ctx. A search of the network takes a second;
// callers repeat it with growing pauses, at least a second apart at first (RFC
// 6762, section 5.2), and with jitter.
func Hubs(ctx context.Context, c Config, try func(context.Context, Hub) bool) error {
	within, cancel := context.WithCancel(ctx)
	defer cancel()
	s := &search{try: try, ctx: within, results: make(chan result)}
	for _, h := range []*Hub{c.Typed, c.Last} {
		if h != nil {
			s.stages = append(s.stages, func() ([]Hub, error) { return []Hub{*h}, nil })
		}
	}
	if !c.NoMulticast {
		s.stages = append(s.stages, func() ([]Hub, error) { return s.browse(c.Interfaces) })
	}
	won := s.run(cancel)
	switch {
	case won:
		return nil
	case ctx.Err() != nil:
		return ctx.Err()
	case s.tried > 0:
		return ErrDeclined
	case s.err != nil:
		return s.err
	}
	return ErrNothing
}

// search is one run of Hubs.
type search struct {
	ctx     context.Context
	try     func(context.Context, Hub) bool
	stages  []func() ([]Hub, error)
	results chan result
	running int
	tried   int
	err     error
}

// result is the end of a try, or of a stage's own work.
type result struct {
	won  bool
	hubs []Hub
	err  error
}

func (s *search) run(cancel func()) (won bool) {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		if s.running == 0 && (won || len(s.stages) == 0 || s.ctx.Err() != nil) {
			return won
		}
		if s.running == 0 {
			s.next(timer)
		}
		select {
		case <-timer.C:
			if !won && s.ctx.Err() == nil {
				s.next(timer)
			}
		case r := <-s.results:
			s.running--
			if s.err == nil {
				s.err = r.err
			}
			if r.won && !won {
				won = true
				cancel()
			}
			for _, h := range r.hubs {
				if won {
					break
				}
				s.tried++
				s.begin(func() result { return result{won: s.try(s.ctx, h)} })
			}
		}
	}
}

// next begins the next stage, if there is one.
func (s *search) next(timer *time.Timer) {
	if len(s.stages) == 0 {
		return
	}
	stage := s.stages[0]
	s.stages = s.stages[1:]
	s.begin(func() result {
		hubs, err := stage()
		return result{hubs: hubs, err: err}
	})
	timer.Reset(headStart)
}

func (s *search) begin(work func() result) {
	s.running++
	go func() { s.results <- work() }()
}

func (s *search) browse(list func() []net.Interface) ([]Hub, error) {
	if list == nil {
		list = Interfaces
	}
	hubs, err := Browse(s.ctx, list())
	if len(hubs) > maxTried {
		rand.Shuffle(len(hubs), func(i, j int) { hubs[i], hubs[j] = hubs[j], hubs[i] })
		hubs = hubs[:maxTried]
	}
	return hubs, err
}
