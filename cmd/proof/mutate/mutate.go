// Package mutate breaks a package on purpose, in one small way at a time, and tells
// which of these edits its tests do not notice.
//
//	go run ./cmd/proof mutate [-n N] [-seed S] PACKAGE...
//
// The edits: operators, comparison bounds, signs, constants, negated conditions,
// branches never taken, statements dropped, arguments and words swapped, smallest
// for largest, true for false. They are drawn by a seed, so many of each package.
//
// A package with all its edits is compiled once (as mutant schemata: Untch, Offutt
// and Harrold, Mutation analysis using mutant schemata, ISSTA 1993): each edited place
// asks a variable whether it is the one that is wrong in this run. A first run of each
// test alone says which places it reaches, so that an edit is run against
// those tests only, the quick ones first, and one that no test reaches survives without
// a run. Nothing is written into the source: the compiler reads it through an overlay.
//
// A test that fails without any edit, or takes too long, is left out and named.
// Processor time, not the clock, ends a run, for the machine may be busy; a run that
// waits for ever is ended by the clock. Both count as noticed, and are told apart.
package mutate

import (
	"cmp"
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// options are the program's flags.
type options struct {
	n      int
	seed   uint64
	limit  time.Duration // of processor time for the tests of one edit
	only   string        // kinds of edit, parted by commas; empty for all
	with   string        // packages whose tests are asked too
	files  string        // beginning of the names of files to edit; empty for all
	quiet  bool
	folder string // of the module
}

// Run breaks the packages named by the arguments.
func Run(ctx context.Context, w io.Writer, args []string) error {
	var o options
	fs := flag.NewFlagSet("mutate", flag.ContinueOnError)
	fs.SetOutput(w)
	fs.IntVar(&o.n, "n", 80, "edits of each package; 0 for all")
	fs.Uint64Var(&o.seed, "seed", 1, "of the choice of edits")
	fs.DurationVar(&o.limit, "limit", 15*time.Second, "processor time for the tests of one edit")
	fs.StringVar(&o.only, "only", "", "kinds of edit, separated by commas; usually all")
	fs.StringVar(&o.with, "with", "", "packages whose tests are asked as well, separated by commas")
	fs.StringVar(&o.files, "files", "", "edit only files whose names begin so")
	fs.BoolVar(&o.quiet, "quiet", false, "print the counts alone")
	if err := fs.Parse(args); err != nil {
		return err
	}
	if fs.NArg() == 0 {
		return fmt.Errorf("mutate: no package named, need one such as ./hub/slide")
	}
	if o.n < 0 || o.limit <= 0 {
		return fmt.Errorf("mutate: -n %d -limit %v, need 0 or more and some time", o.n, o.limit)
	}
	targets, err := load(ctx, fs.Args())
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "seed %d, at most %d edits of each package\n", o.seed, o.n)
	var all count
	for _, t := range targets {
		c, err := o.trial(ctx, w, t)
		if err != nil {
			return fmt.Errorf("mutate: %s: %w", t.path, err)
		}
		all.add(c)
	}
	if len(targets) > 1 {
		fmt.Fprintf(w, "%-28s %s\n", "all", all)
	}
	return nil
}

// count is how edits went.
type count struct {
	edits, survived, unreached, slow int
}

func (c *count) add(d count) {
	c.edits += d.edits
	c.survived += d.survived
	c.unreached += d.unreached
	c.slow += d.slow
}

func (c count) String() string {
	share := 0.0
	if c.edits > 0 {
		share = 100 * float64(c.survived) / float64(c.edits)
	}
	return fmt.Sprintf("%4d edits, %3d survived (%.1f %%), %d of them where no test comes; %d ended by time", c.edits, c.survived, share, c.unreached, c.slow)
}

// trial breaks one package.
func (o options) trial(ctx context.Context, w io.Writer, t *target) (count, error) {
	dir, err := os.MkdirTemp("", "mutate")
	if err != nil {
		return count{}, err
	}
	defer os.RemoveAll(dir)
	drawn := draw(o.wanted(t.places()), o.n, o.seed)
	tests, drawn, err := o.build(ctx, t, drawn, dir)
	if err != nil {
		return count{}, err
	}
	for _, b := range tests {
		for _, left := range b.leftOut {
			fmt.Fprintf(w, "left out: %s\n", left)
		}
	}
	c := count{edits: len(drawn)}
	var lines []string
	for _, e := range drawn {
		end, err := o.judge(ctx, tests, e.id)
		if err := cmp.Or(err, ctx.Err()); err != nil {
			return count{}, err
		}
		switch end {
		case noticed:
			continue
		case outOfTime:
			c.slow++
			continue
		case notReached:
			c.unreached++
		}
		c.survived++
		lines = append(lines, t.survivor(e, end == notReached))
	}
	fmt.Fprintf(w, "%-28s %s\n", strings.TrimPrefix(t.path, "bellrow/"), c)
	if !o.quiet {
		for _, l := range lines {
			fmt.Fprintln(w, l)
		}
	}
	return c, nil
}

// wanted leaves the edits of the wanted kinds and files.
func (o options) wanted(all []*edit) []*edit {
	kinds := strings.Split(o.only, ",")
	return slices.DeleteFunc(all, func(e *edit) bool {
		return o.only != "" && !slices.Contains(kinds, e.kind) || !strings.HasPrefix(filepath.Base(e.file.name), o.files)
	})
}

// survivor tells of an edit that no test noticed.
func (t *target) survivor(e *edit, unreached bool) string {
	was, is, line := e.lines()
	name, err := filepath.Rel(t.module, e.file.name)
	if err != nil {
		name = e.file.name
	}
	note := ""
	if unreached {
		note = " (no test comes here)"
	}
	return fmt.Sprintf("%s:%d: %s%s\n    - %s\n    + %s", filepath.ToSlash(name), line, e.kind, note, was, is)
}
