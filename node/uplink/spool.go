package uplink

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"bellrow/proto"
)

// spool is the file of one boot's unacknowledged readings: one message in JSON
// on each line, as sent. It survives the end of the program at any moment. It
// is not synced after each line, so a power cut may take the last seconds.
// A nil spool keeps nothing.
type spool struct {
	path string
	file *os.File
}

const spoolSuffix = ".readings"

func openSpool(dir, boot string) (*spool, error) {
	if dir == "" {
		return nil, nil
	}
	path := filepath.Join(dir, boot+spoolSuffix)
	f, err := os.OpenFile(path, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, fmt.Errorf("uplink: spool: %w", err)
	}
	return &spool{path: path, file: f}, nil
}

func (s *spool) append(r proto.Reading) error {
	if s == nil {
		return nil
	}
	line, err := proto.Encode(proto.Message{Type: proto.TypeReading, Reading: &r})
	if err != nil {
		return err
	}
	if _, err := s.file.Write(append(line, '\n')); err != nil {
		return fmt.Errorf("uplink: spool: %w", err)
	}
	return nil
}

// clear empties the file.
func (s *spool) clear() error {
	if s == nil {
		return nil
	}
	if err := s.file.Truncate(0); err != nil {
		return fmt.Errorf("uplink: spool: %w", err)
	}
	return nil
}

// close closes the file and removes it if it is empty.
func (s *spool) close() error {
	if s == nil {
		return nil
	}
	info, err := s.file.Stat()
	err = errors.Join(err, s.file.Close())
	if err == nil && info.Size() == 0 {
		err = os.Remove(s.path)
	}
	return err
}

// leftovers lists the boots whose spools an earlier start left in dir.
func leftovers(dir, except string) []string {
	if dir == "" {
		return nil
	}
	entries, err := os.ReadDir(dir)
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

// readSpool returns the readings of a boot in order of sequence. A last line
// that was cut off is left out.
func readSpool(dir, boot string) ([]proto.Reading, error) {
	data, err := os.ReadFile(filepath.Join(dir, boot+spoolSuffix))
	if err != nil {
		return nil, fmt.Errorf("uplink: spool: %w", err)
	}
	var out []proto.Reading
	lines := bufio.NewScanner(bytes.NewReader(data))
	lines.Buffer(nil, proto.MaxPlain+1)
	for lines.Scan() {
		m, err := proto.Decode(lines.Bytes())
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
