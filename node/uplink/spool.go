package uplink

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"bellrow/proto"
)

// spool is the file of one boot's unacknowledged readings: one message in JSON
// on each line, as sent. What append has taken survives the end of the program
// at any moment, and a power cut as far as the disk keeps its word. A nil spool
// keeps nothing.
type spool struct {
	path string
	file *os.File // nil until there is something to keep
	size int64    // of the whole lines in it
}

const spoolSuffix = ".readings"

// errUnsaved means that readings are kept in memory only.
var errUnsaved = errors.New("uplink: spool")

// newSpool returns the spool of a boot in dir, nil without a dir.
func newSpool(dir, boot string) *spool {
	if dir == "" {
		return nil
	}
	return &spool{path: filepath.Join(dir, boot+spoolSuffix)}
}

// successor returns the spool of another boot beside this one.
func (s *spool) successor(boot string) *spool {
	if s == nil {
		return nil
	}
	return newSpool(filepath.Dir(s.path), boot)
}

// append adds readings and returns once they are on the disk. It takes all of
// them or none.
func (s *spool) append(rs []proto.Reading) error {
	if s == nil || len(rs) == 0 {
		return nil
	}
	var lines []byte
	for i := range rs {
		line, err := proto.Encode(proto.Message{Type: proto.TypeReading, Reading: &rs[i]})
		if err != nil {
			return err
		}
		lines = append(append(lines, line...), '\n')
	}
	if err := s.write(lines); err != nil {
		return fmt.Errorf("%w: %w", errUnsaved, err)
	}
	return nil
}

func (s *spool) write(lines []byte) error {
	if err := s.open(); err != nil {
		return err
	}
	_, err := s.file.WriteAt(lines, s.size)
	if err == nil {
		err = s.file.Sync()
	}
	if err != nil {
		// Half a line must not stay for the next one to continue. Should even
		// this fail, the next write begins at the same place.
		return errors.Join(err, s.file.Truncate(s.size))
	}
	s.size += int64(len(lines))
	return nil
}

func (s *spool) open() (err error) {
	if s.file != nil {
		return nil
	}
	s.file, err = os.OpenFile(s.path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	syncFolder(filepath.Dir(s.path))
	return err
}

// syncFolder makes a new file's name survive a power cut, where the system
// can: Windows refuses, and does without.
func syncFolder(dir string) {
	if d, err := os.Open(dir); err == nil {
		d.Sync()
		d.Close()
	}
}

// clear empties the file. It need not reach the disk: readings that come back
// after a power cut are stored already.
func (s *spool) clear() error {
	if s == nil || s.file == nil {
		return nil
	}
	s.size = 0
	if err := s.file.Truncate(0); err != nil {
		return fmt.Errorf("uplink: spool: %w", err)
	}
	return nil
}

// close closes the file and removes it if it is empty.
func (s *spool) close() error {
	if s == nil || s.file == nil {
		return nil
	}
	if s.size == 0 {
		return s.remove()
	}
	return s.file.Close()
}

// remove closes and deletes the file.
func (s *spool) remove() error {
	if s == nil || s.file == nil {
		return nil
	}
	return errors.Join(s.file.Close(), os.Remove(s.path))
}

// leftovers lists the boots whose spools an earlier start left in dir.
func leftovers(dir, except string) []string {
	entries, err := os.ReadDir(dir) // "" is no folder
	if err != nil {
		return nil
	}
	var boots []string
	for _, e := range entries {
		boot, ok := strings.CutSuffix(e.Name(), spoolSuffix)
		if ok && boot != except {
			boots = append(boots, boot)
		}
	}
	return boots
}

// readSpool returns the readings of a boot in order of sequence. Lines that
// cannot be read are left out: the last one may have been cut off.
func readSpool(dir, boot string) ([]proto.Reading, error) {
	data, err := os.ReadFile(filepath.Join(dir, boot+spoolSuffix))
	if err != nil {
		return nil, fmt.Errorf("uplink: spool: %w", err)
	}
	var out []proto.Reading
	for line := range bytes.Lines(data) {
		m, err := proto.Decode(line)
		if err != nil || m.Reading == nil {
			continue
		}
		if n := len(out); n > 0 && m.Reading.Sequence <= out[n-1].Sequence {
			continue
		}
		out = append(out, *m.Reading)
	}
	return out, nil
}

// unbroken returns how many of the readings have numbers without a gap.
func unbroken(rs []proto.Reading) int {
	for i := 1; i < len(rs); i++ {
		if rs[i].Sequence != rs[i-1].Sequence+1 {
			return i
		}
	}
	return len(rs)
}
