package uplink

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"

	"bellrow/node/find"
)

// known is a hub that has accepted this node.
type known struct {
	ID          string   `json:"id"`
	Name        string   `json:"name"`
	Addresses   []string `json:"addresses"`
	TLS         bool     `json:"tls,omitempty"`
	Fingerprint string   `json:"fingerprint,omitempty"`
	Token       string   `json:"token"`
	Boot        string   `json:"boot,omitempty"` // the last that it took readings of
	// Proved says that this hub has proved what it knows; Older that it could not
	// and that the player confirmed its addresses.
	Proved bool      `json:"proved,omitempty"`
	Older  bool      `json:"older,omitempty"`
	Used   time.Time `json:"used"`
}

// memory remembers hubs, in a file if it has a path.
type memory struct {
	path string

	mu   sync.Mutex
	hubs map[string]known
}

// maxKnown bounds the hubs remembered; the one not used for longest goes, and
// one whose key is pinned only where all are.
const maxKnown = 64

func openMemory(dir string) *memory {
	m := &memory{hubs: map[string]known{}}
	if dir == "" {
		return m
	}
	m.path = filepath.Join(dir, "hubs.json")
	data, err := os.ReadFile(m.path)
	if err == nil && json.Unmarshal(data, &m.hubs) != nil {
		m.hubs = map[string]known{} // unreadable: the node must join again, nothing else is lost
	}
	return m
}

// last returns the hub used last, nil when there is none.
func (m *memory) last() *find.Hub {
	m.mu.Lock()
	defer m.mu.Unlock()
	var best known
	for _, k := range m.hubs {
		if k.Used.After(best.Used) {
			best = k
		}
	}
	if best.ID == "" {
		return nil
	}
	return &find.Hub{
		ID: best.ID, Name: best.Name, Addresses: append([]string(nil), best.Addresses...),
		TLS: best.TLS, Fingerprint: best.Fingerprint, From: find.FromLast,
	}
}

func (m *memory) get(id string) known {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.hubs[id]
}

func (m *memory) put(k known) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.hubs[k.ID] = k
	for len(m.hubs) > maxKnown {
		oldest := k
		for _, o := range m.hubs {
			switch free, was := o.Fingerprint == "", oldest.Fingerprint == ""; {
			case free && !was, free == was && o.Used.Before(oldest.Used):
				oldest = o
			}
		}
		delete(m.hubs, oldest.ID)
	}
	return m.save()
}

// pinned returns h as it may be talked to: a hub that was once reached over TLS
// is reached over TLS for good, and with the key that it had then. Only a
// link that the player gave can name another key.
func (m *memory) pinned(h find.Hub) find.Hub {
	k := m.get(h.ID)
	if h.ID == "" || h.From == find.FromTyped && h.Fingerprint != "" {
		return h
	}
	h.TLS = h.TLS || k.TLS
	if k.Fingerprint != "" {
		h.Fingerprint = k.Fingerprint
	}
	return h
}

// fits reports whether a hub that turned out to have this id only now was
// reached as pinned would have it.
func (m *memory) fits(id string, h find.Hub, l *line) bool {
	h.ID = id
	p := m.pinned(h)
	return p.TLS == h.TLS && (p.Fingerprint == "" || p.Fingerprint == l.fingerprint)
}

func (m *memory) save() error {
	if m.path == "" {
		return nil
	}
	data, err := json.MarshalIndent(m.hubs, "", "\t")
	if err == nil {
		err = replaceFile(m.path, data)
	}
	if err != nil {
		return fmt.Errorf("uplink: known hubs: %w", err)
	}
	return nil
}
