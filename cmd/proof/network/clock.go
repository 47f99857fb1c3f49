package network

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"os/signal"
	"strings"
	"sync/atomic"
	"time"
)

// wrongClock is a laptop's clock that can be set while the program runs. A file
// says how far it is out, also at the next start. Unlike a real one it drags
// the time since the start along, which is worse.
type wrongClock struct {
	path string // empty for the right time
	out  atomic.Int64
	ask  chan os.Signal
}

// openClock reads the file. From now on SIGUSR2 does not end the program.
func openClock(path string) (*wrongClock, error) {
	c := &wrongClock{path: path, ask: make(chan os.Signal, 1)}
	signal.Notify(c.ask, askClock)
	return c, c.read()
}

func (c *wrongClock) now() time.Time { return time.Now().Add(time.Duration(c.out.Load())) }

func (c *wrongClock) read() error {
	if c.path == "" {
		return nil
	}
	text, err := os.ReadFile(c.path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	out, err := time.ParseDuration(string(text))
	c.out.Store(int64(out))
	return err
}

// follow reads the file again at each SIGUSR2, until ctx ends.
func (c *wrongClock) follow(ctx context.Context) error {
	defer signal.Stop(c.ask)
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-c.ask:
			if err := c.read(); err != nil {
				return err
			}
		}
	}
}

// setClock sets the clock of a process that follows the file at path. One that
// is not ready yet reads it by itself.
func (p *process) setClock(path string, out time.Duration) error {
	if err := os.WriteFile(path, []byte(out.String()), 0o600); err != nil || !strings.Contains(p.out.String(), "ready") {
		return err
	}
	return p.cmd.Process.Signal(askClock)
}
