// Package preset is what a school sets beforehand for all its laptops: where
// the hub is, and which section it opens.
//
// A preset is a text file with lines "hub = ADDRESS" and "section = NAME"; empty
// lines and those that begin with # are left out. The environment, as
// BELLROW_HUB and BELLROW_SECTION, goes before files.
package preset

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"bellrow/proto"
)

// Preset is what was set; empty where nothing was.
type Preset struct {
	Hub     string // address or link
	Section string
}

// FileName is the file's name, in whatever folder.
const FileName = "bellrow.conf"

// Places are the files that are read, the first one that is there: beside the
// program, then where a system's administrators put such things.
func Places(program, system string, getenv func(string) string) []string {
	beside := filepath.Join(filepath.Dir(program), FileName)
	switch system {
	case "windows":
		return []string{beside, filepath.Join(getenv("ProgramData"), "bellrow", FileName)}
	case "darwin":
		return []string{beside, filepath.Join("/Library", "Application Support", "bellrow", FileName)}
	}
	return []string{beside, filepath.Join("/etc", FileName)}
}

// Load reads the first of the files that is there, and the environment. An
// error names the file and the line.
func Load(places []string, getenv func(string) string) (Preset, error) {
	p := Preset{}
	for _, path := range places {
		f, err := os.Open(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return p, fmt.Errorf("preset: %w", err)
		}
		err = p.read(f)
		f.Close()
		if err != nil {
			return p, fmt.Errorf("preset: %s, %w", path, err)
		}
		break
	}
	for name, set := range map[string]func(string) error{"BELLROW_HUB": p.hub, "BELLROW_SECTION": p.section} {
		if v := strings.TrimSpace(getenv(name)); v != "" {
			if err := set(v); err != nil {
				return p, fmt.Errorf("preset: %s: %w", name, err)
			}
		}
	}
	return p, nil
}

// maxFile is far more than two lines take.
const maxFile = 64 << 10

func (p *Preset) read(r io.Reader) error {
	sc := bufio.NewScanner(io.LimitReader(r, maxFile))
	for n := 1; sc.Scan(); n++ {
		line := strings.TrimSpace(strings.TrimPrefix(sc.Text(), "\ufeff")) // Windows' editor begins a file so
		if line == "" || line[0] == '#' {
			continue
		}
		key, value, ok := strings.Cut(line, "=")
		value = strings.TrimSpace(value)
		var err error
		switch key = strings.TrimSpace(key); {
		case !ok || value == "":
			err = fmt.Errorf("%q is not NAME = VALUE", line)
		case key == "hub":
			err = p.hub(value)
		case key == "section":
			err = p.section(value)
		default:
			err = fmt.Errorf("there is no %q to set, only hub and section", key)
		}
		if err != nil {
			return fmt.Errorf("line %d: %w", n, err)
		}
	}
	return sc.Err()
}

func (p *Preset) hub(v string) error {
	if _, err := proto.ParseLink(v); err != nil {
		return err
	}
	p.Hub = v
	return nil
}

func (p *Preset) section(v string) error {
	if n := utf8.RuneCountInString(v); n > proto.MaxName || !proto.Printable(v) {
		return fmt.Errorf("a section's name of %d characters, need at most %d that can be shown", n, proto.MaxName)
	}
	p.Section = v
	return nil
}
