package capture

import (
	"context"
	"sync"
	"time"
)

// paced delivers the blocks of a source in real time.
type paced struct {
	Source
	start time.Time // of sample 0; zero until the first Read
	done  chan struct{}
	once  sync.Once
}

// Paced returns a source that delivers the blocks of src when their last
// sample would have been played, counted from the first Read: a file becomes a
// microphone. A reader that falls behind gets the late blocks at once; nothing
// is lost. Closing it closes src.
func Paced(src Source) Source {
	return &paced{Source: src, done: make(chan struct{})}
}

func (p *paced) Info() Info {
	info := p.Source.Info()
	info.Live = true
	return info
}

func (p *paced) Read(ctx context.Context) (Block, error) {
	b, err := p.Source.Read(ctx)
	if err != nil {
		return Block{}, err
	}
	if p.start.IsZero() {
		p.start = time.Now()
	}
	end := float64(b.First+int64(len(b.Samples))) / p.Source.Info().Rate
	wait := time.NewTimer(time.Until(p.start.Add(time.Duration(end * float64(time.Second)))))
	defer wait.Stop()
	select {
	case <-wait.C:
		return b, nil
	case <-ctx.Done():
		return Block{}, ctx.Err()
	case <-p.done:
		return Block{}, ErrClosed
	}
}

func (p *paced) Close() error {
	p.once.Do(func() { close(p.done) })
	return p.Source.Close()
}
