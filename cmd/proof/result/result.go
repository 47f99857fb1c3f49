// Package result keeps what a proof has printed: one Markdown file a subject,
// one section a command, with date, commit, machine and processor time, so that
// whoever reads a figure can see where it comes from and run it again.
//
// A command that is run again replaces its own section. Everything else in the
// file stays as it is, what was written by hand included.
package result

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"time"
)

// Folder is where the files lie, from the top of the project.
const Folder = "testdata/results"

// Record is one run of one command.
type Record struct {
	Command   string
	At        time.Time
	Commit    string
	Machine   string
	Processor time.Duration // 0 = not known
	Output    string
}

// New begins a record of a command that starts now.
func New(command []string) Record {
	return Record{Command: quoted(command), At: time.Now(), Commit: commit(), Machine: machine()}
}

// quoted is a command line as it would be typed.
func quoted(words []string) string {
	plain := regexp.MustCompile(`^[\w@%+=:,./-]+$`)
	out := make([]string, len(words))
	for i, w := range words {
		if out[i] = w; !plain.MatchString(w) {
			out[i] = "'" + strings.ReplaceAll(w, "'", `'\''`) + "'"
		}
	}
	return strings.Join(out, " ")
}

// commit names what was measured: the commit, and whether it is that alone.
func commit() string {
	head, err := exec.Command("git", "rev-parse", "--short", "HEAD").Output()
	if err != nil {
		return "unknown"
	}
	name := strings.TrimSpace(string(head))
	if changed, err := exec.Command("git", "status", "--porcelain", "--", "*.go", "go.mod").Output(); err != nil || len(changed) > 0 {
		name += " with changes"
	}
	return name
}

// machine tells what a program ran on and how busy it was, as far as that is known.
func machine() string {
	m := fmt.Sprintf("%s/%s, %d processors", runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	if info, err := os.ReadFile("/proc/cpuinfo"); err == nil {
		if model := regexp.MustCompile(`(?m)^model name\s*: (.+)$`).FindSubmatch(info); model != nil {
			m += " (" + string(model[1]) + ")"
		}
	}
	if load, err := os.ReadFile("/proc/loadavg"); err == nil {
		m += ", load " + strings.Fields(string(load))[0]
	}
	return m
}

// Section is the record as Markdown.
func (r Record) Section() string {
	head := fmt.Sprintf("%s, commit %s, %s, %s", r.At.UTC().Format("2006-01-02"), r.Commit, runtime.Version(), r.Machine)
	if r.Processor > 0 {
		head += fmt.Sprintf(", %.3g s of processor time", r.Processor.Seconds())
	}
	return fmt.Sprintf("%s\n\n%s.\n\n```\n%s\n```\n", r.heading(), head, strings.TrimRight(r.Output, "\n"))
}

func (r Record) heading() string { return "## `" + r.Command + "`" }

// Put returns a document with the record in it, in the place of an earlier one of the
// same command or at the end. An empty document is begun with its title.
func Put(doc, title string, r Record) string {
	if doc == "" {
		doc = "# " + title + "\n"
	}
	lines := strings.SplitAfter(strings.TrimRight(doc, "\n")+"\n", "\n")
	var before, after strings.Builder
	found, inside, fenced := false, false, false
	for _, line := range lines {
		bare := strings.TrimRight(line, "\n")
		if strings.HasPrefix(bare, "```") {
			fenced = !fenced
		} else if !fenced && strings.HasPrefix(bare, "#") {
			inside = bare == r.heading()
			found = found || inside
		}
		switch {
		case inside:
		case found:
			after.WriteString(line)
		default:
			before.WriteString(line)
		}
	}
	out := strings.TrimRight(before.String(), "\n") + "\n\n" + r.Section()
	if rest := strings.Trim(after.String(), "\n"); rest != "" {
		out += "\n" + rest + "\n"
	}
	return out
}

// Write puts the record into a subject's file.
func Write(folder, subject string, r Record) error {
	if err := Valid(folder, subject); err != nil {
		return err
	}
	path := filepath.Join(folder, subject+".md")
	doc, err := os.ReadFile(path)
	if err != nil && !os.IsNotExist(err) {
		return err
	}
	return os.WriteFile(path, []byte(Put(string(doc), subject, r)), 0o644)
}

// Valid says what is wrong with where a record is to go, before anything is
// measured for it.
func Valid(folder, subject string) error {
	if !regexp.MustCompile(`^[a-z][a-z-]*$`).MatchString(subject) {
		return fmt.Errorf("-write %q: need the name of a subject in small letters, such as moves", subject)
	}
	if info, err := os.Stat(folder); err != nil || !info.IsDir() {
		return fmt.Errorf("-write %s: there is no folder %s here; run it from the top of the project", subject, folder)
	}
	return nil
}
