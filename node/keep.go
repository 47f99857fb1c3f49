package node

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"bellrow/node/capture"
)

const (
	// keepSeconds bounds what is kept of one note, and with it the memory: its
	// end, which is what is read. Twice 1.9 MB at 48 kHz.
	keepSeconds = 10
	// keepBefore is how much is kept of what was heard before the note, in
	// seconds: its attack, and the quiet room for comparison.
	keepBefore = 0.3
)

// Sound is the sound of one note as the node heard it. It stays in memory
// until the next note, a pause or the end of the node.
type Sound struct {
	Rate    float64
	Samples []float32
}

// Kept returns the sound of the last note that the hub had asked for; nil
// without one, or when Config.KeepSound is false. It may be called from any
// goroutine.
func (n *Node) Kept() *Sound {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.kept
}

func (n *Node) keep(s *Sound) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.kept = s
}

// Save writes s as a WAV file into dir, which is made if need be, under the
// time at; no file that is there is touched. It returns the file's full name.
// What could not be written leaves nothing behind.
func (s *Sound) Save(dir string, at time.Time) (path string, err error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", err
	}
	f, err := fresh(dir, at.Format("2006-01-02 15.04.05"))
	if err != nil {
		return "", err
	}
	samples := make([]float64, len(s.Samples))
	for i, x := range s.Samples {
		samples[i] = float64(x)
	}
	err = errors.Join(capture.WriteWAV(f, samples, s.Rate), f.Sync(), f.Close())
	if err != nil {
		return "", errors.Join(err, os.Remove(f.Name()))
	}
	return filepath.Abs(f.Name())
}

// mostSameSecond is how many sounds can be kept in one second.
const mostSameSecond = 100

// fresh makes a file that was not there before.
func fresh(dir, name string) (*os.File, error) {
	for i := 1; ; i++ {
		path := filepath.Join(dir, name+".wav")
		if i > 1 {
			path = filepath.Join(dir, fmt.Sprintf("%s (%d).wav", name, i))
		}
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if !errors.Is(err, fs.ErrExist) || i == mostSameSecond {
			return f, err
		}
	}
}

// recent is the sound heard last, so that a note can be taken from it once it
// is over. Samples are counted as the listener counts them.
type recent struct {
	rate float64
	ring []float32
	end  int64 // samples so far, lost ones included
}

func newRecent(rate float64) *recent {
	return &recent{rate: rate, ring: make([]float32, int(keepSeconds*rate))}
}

// hear takes a block; what was lost before it is silence.
func (r *recent) hear(b capture.Block) {
	size := int64(len(r.ring))
	for range min(max(0, b.Lost), size) {
		r.ring[r.end%size] = 0
		r.end++
	}
	r.end += max(0, b.Lost-size)
	for _, x := range b.Samples {
		r.ring[r.end%size] = float32(x)
		r.end++
	}
}

// note is the sound of the note that began at onset, up to now.
func (r *recent) note(onset int64) *Sound {
	size := int64(len(r.ring))
	from := max(0, r.end-size, onset-int64(keepBefore*r.rate))
	s := &Sound{Rate: r.rate, Samples: make([]float32, max(0, r.end-from))}
	for i := range s.Samples {
		s.Samples[i] = r.ring[(from+int64(i))%size]
	}
	return s
}
