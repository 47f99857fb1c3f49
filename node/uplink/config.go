package uplink

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/name"
)

// Config sets up an Uplink.
type Config struct {
	// Node is the stable identity of this laptop and chair. Empty means the one
	// in StateDir, made at the first start.
	Node string
	// Boot is random for each start; empty makes one.
	Boot string
	// Chair, Part and Instrument are what the player gave.
	Chair      string
	Part       string
	Instrument instrument.ID
	// Device and Rate describe the microphone; Tracks says that partial tracks
	// can be sent.
	Device string
	Rate   float64
	Tracks bool

	// Join is the join code; needed at the first visit to a hub.
	Join string
	// Hub is the address or link that the player gave: tried first, and searched
	// past. A hub id in it is the only one that will do. The zero Link searches.
	Hub proto.Link
	// Sure says that the player has compared the address in Hub with the
	// leader's screen: a hub there that is of an older version, and cannot prove
	// that it knows the code, is sent it all the same.
	Sure bool
	// Fallback is tried when a search finds nothing, for networks that cannot
	// be searched; the zero Link tries nothing.
	Fallback proto.Link
	// StateDir keeps the node's identity, the hubs it knows with their tokens,
	// and the spool of readings. Empty keeps all of it in memory only.
	StateDir string
	// Interfaces lists the network interfaces to search; nil means all usable.
	Interfaces func() []net.Interface
	// NoMulticast searches only the last good hub.
	NoMulticast bool

	// Dial opens connections; nil means by TCP.
	Dial func(ctx context.Context, network, address string) (net.Conn, error)
	// Log gets details; nil discards them.
	Log *slog.Logger
	// Now is the clock; nil means time.Now. It must be monotonic.
	Now func() time.Time
}

// maxReadings bounds the readings kept for a hub that stays away: more notes
// than a player plays in a day.
const maxReadings = 10000

// fill validates c and puts in what was left open.
func (c *Config) fill() error {
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Dial == nil {
		c.Dial = new(net.Dialer).DialContext
	}
	if c.Boot == "" {
		c.Boot = rand.Text()
	}
	if c.StateDir != "" {
		if err := os.MkdirAll(c.StateDir, 0o700); err != nil {
			return fmt.Errorf("uplink: state folder: %w", err)
		}
	}
	if c.Node == "" {
		node, err := identity(c.StateDir)
		if err != nil {
			return err
		}
		c.Node = node
	}
	c.Chair, c.Part, c.Device = name.Normal(c.Chair), name.Normal(c.Part), name.Normal(c.Device)
	if c.Hub.Code != "" && c.Join == "" {
		c.Join = c.Hub.Code
	}
	_, err := proto.Encode(proto.Message{Type: proto.TypeHello, Hello: c.hello(c.Boot)})
	if err != nil {
		return fmt.Errorf("uplink: %w", err)
	}
	return nil
}

func (c *Config) hello(boot string) *proto.Hello {
	return &proto.Hello{
		Version: proto.Version, Node: c.Node, Boot: boot,
		Chair: c.Chair, Part: c.Part, Instrument: c.Instrument,
		Device: c.Device, Rate: c.Rate, Tracks: c.Tracks,
	}
}

// identity reads the node's id from dir, or makes it there.
func identity(dir string) (string, error) {
	if dir == "" {
		return rand.Text(), nil
	}
	path := filepath.Join(dir, "node-id")
	data, err := os.ReadFile(path)
	if id := strings.TrimSpace(string(data)); err == nil && id != "" {
		return id, nil
	}
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return "", fmt.Errorf("uplink: node identity: %w", err)
	}
	id := rand.Text()
	if err := replaceFile(path, []byte(id+"\n")); err != nil {
		return "", fmt.Errorf("uplink: node identity: %w", err)
	}
	return id, nil
}

// replaceFile writes a file whole or not at all, readable by its owner only.
func replaceFile(path string, data []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".new-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // after a rename there is nothing left to remove
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
