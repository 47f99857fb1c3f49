package mutate

import (
	"bytes"
	"cmp"
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

//go:embed schema.go.txt
var schema string

// binary is the compiled tests of one package, with all edits built in.
type binary struct {
	path, dir string
	tests     []test
	leftOut   []string
}

// test is one test, how long it takes and which edits it comes by.
type test struct {
	name    string
	takes   time.Duration // of processor time
	reaches map[int]bool
}

// mostTries bounds how often what does not compile is left out.
const mostTries = 8

// build compiles the package's tests with the edits, and those of the packages that
// are asked as well, and finds out which test comes by which edit. Edits that do
// not compile are left out.
func (o options) build(ctx context.Context, t *target, edits []*edit, dir string) ([]*binary, []*edit, error) {
	packages := []string{t.path}
	if o.with != "" {
		packages = append(packages, strings.Split(o.with, ",")...)
	}
	for try := 0; ; try++ {
		overlay, err := t.overlay(edits, dir)
		if err != nil {
			return nil, nil, err
		}
		bad, complaints := map[string][]int{}, ""
		var all []*binary
		for i, p := range packages {
			b := &binary{path: filepath.Join(dir, fmt.Sprintf("tests%d", i))}
			said, err := b.compile(ctx, p, overlay)
			if err != nil {
				if bad, complaints = places(said), said; len(bad) == 0 || try == mostTries {
					return nil, nil, fmt.Errorf("%w\n%s", err, said)
				}
				break
			}
			all = append(all, b)
		}
		if len(bad) == 0 {
			for _, b := range all {
				if err := o.survey(ctx, b, dir); err != nil {
					return nil, nil, err
				}
			}
			return all, edits, nil
		}
		was := len(edits)
		edits = slices.DeleteFunc(edits, func(e *edit) bool {
			return slices.ContainsFunc(bad[filepath.Base(e.file.name)], e.touches)
		})
		if len(edits) == was {
			return nil, nil, fmt.Errorf("it does not compile, and no edit stands where the compiler complains:\n%s", complaints)
		}
	}
}

// touches reports whether an edit changes a line.
func (e *edit) touches(line int) bool {
	first := 1 + bytes.Count(e.file.text[:e.from], []byte("\n"))
	last := 1 + bytes.Count(e.file.text[:e.to], []byte("\n"))
	return first <= line && line <= last
}

// overlay writes the edited files and the list that the compiler reads them by.
func (t *target) overlay(edits []*edit, dir string) (string, error) {
	replace := map[string]string{}
	write := func(name string, text []byte) error {
		to := filepath.Join(dir, filepath.Base(name))
		replace[name] = to
		return os.WriteFile(to, text, 0o644)
	}
	most := 0
	for _, s := range t.files {
		text := woven(s, edits)
		if strings.Contains(string(text), "math.Abs") || strings.Contains(string(text), "mutantAbs") {
			text = append(text, "\nvar _ = math.Abs // its last call may be one of the edits\n"...)
		}
		if err := write(s.name, text); err != nil {
			return "", err
		}
	}
	for _, e := range edits {
		most = max(most, e.id)
	}
	helper := strings.NewReplacer("PACKAGE", t.name, "COUNT", strconv.Itoa(most+1)).Replace(schema)
	if err := write(filepath.Join(t.dir, "mutants.go"), []byte(helper)); err != nil {
		return "", err
	}
	list, err := json.Marshal(map[string]any{"Replace": replace})
	if err != nil {
		return "", err
	}
	name := filepath.Join(dir, "overlay.json")
	return name, os.WriteFile(name, list, 0o644)
}

// compile builds a package's tests, and returns what the compiler said.
func (b *binary) compile(ctx context.Context, pkg, overlay string) (string, error) {
	out, err := exec.CommandContext(ctx, "go", "list", "-f", "{{.Dir}}", pkg).Output()
	if err != nil {
		return "", err
	}
	b.dir = strings.TrimSpace(string(out))
	c := exec.CommandContext(ctx, "go", "test", "-c", "-vet=off", "-overlay", overlay, "-gcflags=-e", "-o", b.path, pkg)
	said, err := c.CombinedOutput()
	if _, none := os.Stat(b.path); err == nil && none != nil {
		b.path = "" // no tests
	}
	return string(said), err
}

var complaint = regexp.MustCompile(`(?m)^(\S+\.go):(\d+):\d+: `)

// places finds the lines that the compiler complains of, by file.
func places(said string) map[string][]int {
	lines := map[string][]int{}
	for _, m := range complaint.FindAllStringSubmatch(said, -1) {
		n, err := strconv.Atoi(m[2])
		if err == nil {
			lines[filepath.Base(m[1])] = append(lines[filepath.Base(m[1])], n)
		}
	}
	return lines
}

// survey runs each test by itself, with no edit that counts.
func (o options) survey(ctx context.Context, b *binary, dir string) error {
	if b.path == "" {
		return nil
	}
	c := exec.CommandContext(ctx, b.path, "-test.list", ".")
	c.Dir = b.dir
	out, err := c.Output()
	if err != nil {
		return fmt.Errorf("the tests cannot be listed: %w", err)
	}
	for _, name := range strings.Fields(string(out)) {
		if strings.HasPrefix(name, "Benchmark") {
			continue
		}
		reached := filepath.Join(dir, "reached")
		os.Remove(reached)
		end, takes, err := o.run(ctx, b, []string{name}, "MUTANTS_REACHED="+reached)
		if err != nil {
			return err
		}
		if end != survived {
			b.leftOut = append(b.leftOut, fmt.Sprintf("%s: %s without any edit", name, map[ending]string{noticed: "fails", outOfTime: "takes too long"}[end]))
			continue
		}
		t := test{name: name, takes: takes, reaches: map[int]bool{}}
		list, _ := os.ReadFile(reached) // none for a test that reaches no edit
		for _, id := range strings.Fields(string(list)) {
			n, err := strconv.Atoi(id)
			if err != nil {
				return err
			}
			t.reaches[n] = true
		}
		b.tests = append(b.tests, t)
	}
	slices.SortStableFunc(b.tests, func(x, y test) int { return cmp.Compare(x.takes, y.takes) })
	return nil
}

// ending is what became of an edit.
type ending int

const (
	survived ending = iota
	noticed
	outOfTime
	notReached
)

// batch is how much processor time of tests is run before the slower ones are begun.
const batch = time.Second

// judge runs the tests that come by an edit.
func (o options) judge(ctx context.Context, all []*binary, id int) (ending, error) {
	reached := false
	for _, b := range all {
		var names []string
		var sum time.Duration
		flush := func() (ending, error) {
			if len(names) == 0 {
				return survived, nil
			}
			end, _, err := o.run(ctx, b, names, "MUTANT="+strconv.Itoa(id))
			names, sum = nil, 0
			return end, err
		}
		for _, t := range b.tests {
			if !t.reaches[id] {
				continue
			}
			reached = true
			names, sum = append(names, t.name), sum+t.takes
			if sum < batch {
				continue
			}
			if end, err := flush(); err != nil || end != survived {
				return end, err
			}
		}
		if end, err := flush(); err != nil || end != survived {
			return end, err
		}
	}
	if !reached {
		return notReached, nil
	}
	return survived, nil
}

// patience is how many times the limit of processor time a run may wait.
const patience = 8

// mostMemory is what a run may take up, in kB: an edit may make a loop that never
// stops to collect.
const mostMemory = 6 << 20

// run runs tests by name.
func (o options) run(ctx context.Context, b *binary, names []string, env string) (ending, time.Duration, error) {
	ctx, cancel := context.WithTimeout(ctx, patience*o.limit)
	defer cancel()
	args := []string{"-test.short", "-test.failfast", "-test.timeout", (patience * o.limit).String(), "-test.run", "^(" + strings.Join(names, "|") + ")$"}
	c := exec.CommandContext(ctx, b.path, args...)
	if runtime.GOOS != "windows" {
		limits := fmt.Sprintf("ulimit -t %d; ulimit -v %d; exec nice -n 19 \"$0\" \"$@\"", max(1, int(o.limit.Seconds())), mostMemory)
		c = exec.CommandContext(ctx, "sh", append([]string{"-c", limits, b.path}, args...)...)
	}
	c.Dir = b.dir
	c.Env = append(os.Environ(), "GOMAXPROCS=1", env)
	c.WaitDelay = time.Second
	var said bytes.Buffer
	c.Stdout, c.Stderr = &said, &said
	err := c.Run()
	var takes time.Duration
	if c.ProcessState != nil {
		takes = c.ProcessState.UserTime() + c.ProcessState.SystemTime()
	}
	var exit *exec.ExitError
	switch {
	case err == nil:
		return survived, takes, nil
	case ctx.Err() != nil && errors.Is(ctx.Err(), context.DeadlineExceeded),
		errors.As(err, &exit) && exit.ExitCode() == -1, strings.Contains(said.String(), "test timed out"):
		return outOfTime, takes, nil
	case errors.As(err, &exit):
		return noticed, takes, nil
	}
	return 0, takes, err
}
