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
	ID          string    `json:"id"`
	Name        string    `json:"name"`
	Addresses   []string  `json:"addresses"`
	TLS         bool      `json:"tls,omitempty"`
	Fingerprint string    `json:"fingerprint,omitempty"`
	Token       string    `json:"token"`
	Boot        string    `json:"boot,omitempty"` // the last that it took readings of
	Used        time.Time `json:"used"`
}

// memory remembers hubs, in a file if it has a path.
type memory struct {
	path string

	mu   sync.Mutex
	hubs map[string]known
}

// maxKnown bounds the hubs remembered; the one not used for longest goes.
const maxKnown = 32

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
			if o.Used.Before(oldest.Used) {
				oldest = o
			}
		}
		delete(m.hubs, oldest.ID)
	}
	return m.save()
}

func (m *memory) forgetToken(id string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	k, ok := m.hubs[id]
	if !ok || k.Token == "" {
		return nil
	}
	k.Token = ""
	m.hubs[id] = k
	return m.save()
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
