package network

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"time"

	"bellrow/node/uplink"
)

// runGuest does what somebody honest does while others flood the hub, and
// prints how long it took at worst: fresh nodes join by searching, the wall's
// page is loaded, and the leader's with the key. The leader's laptop itself asks
// by loopback.
func runGuest(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet(roleGuest, flag.ContinueOnError)
	address := fs.String("hub", "", "")
	key := fs.String("leader", "", "")
	joins := fs.Int("joins", 0, "")
	loads := fs.Int("loads", 10, "")
	code := fs.String("code", joinCode, "")
	if err := fs.Parse(args); err != nil {
		return err
	}
	worst := map[string]time.Duration{}
	var failed error
	took := func(what string, do func() error) {
		began := time.Now()
		if err := do(); err != nil {
			failed = errors.Join(failed, fmt.Errorf("%s: %w", what, err))
		}
		worst[what] = max(worst[what], time.Since(began))
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		return err
	}
	leader := &http.Client{Jar: jar, Timeout: 10 * time.Second, Transport: &http.Transport{}}
	if *key != "" {
		took("leader's key", func() error {
			resp, err := leader.PostForm("http://"+*address+"/leader", url.Values{"key": {*key}})
			if err == nil {
				resp.Body.Close()
			}
			return err
		})
	}
	for range *loads {
		took("leader's page", func() error { return load200(leader, "http://"+*address+"/row") })
		took("wall", func() error {
			fresh := &http.Client{Timeout: 10 * time.Second, Transport: &http.Transport{DisableKeepAlives: true}}
			return load200(fresh, "http://"+*address+"/wall")
		})
		time.Sleep(100 * time.Millisecond)
	}
	for i := range *joins {
		took("fresh node", func() error { return joinFresh(ctx, i, *code, slog.New(slog.NewTextHandler(w, nil))) })
	}
	for what, d := range worst {
		fmt.Fprintf(w, "guest|%s|%s\n", what, d)
	}
	return failed
}

func load200(c *http.Client, address string) error {
	resp, err := c.Get(address)
	if err != nil {
		return err
	}
	defer resp.Body.Close()
	if _, err := io.Copy(io.Discard, resp.Body); err != nil {
		return err
	}
	if resp.StatusCode != http.StatusOK {
		return fmt.Errorf("soak: %s", resp.Status)
	}
	return nil
}

// joinFresh starts a node that knows nothing but the code, waits until it is
// connected, and ends it.
func joinFresh(ctx context.Context, i int, code string, log *slog.Logger) error {
	dir, err := os.MkdirTemp("", "bellrow-fresh-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	u, err := uplink.New(uplink.Config{Chair: fmt.Sprintf("Fresh %d", i), Instrument: "horn_f", Join: code, StateDir: dir, Log: log})
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, 30*time.Second)
	done := make(chan struct{})
	go func() { defer close(done); u.Run(ctx) }()
	defer func() { cancel(); <-done }()
	for {
		changed := u.Changed()
		s := u.Status()
		if s.Phase == uplink.Connected {
			return nil
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return fmt.Errorf("soak: not connected: %+v", s)
		}
	}
}
