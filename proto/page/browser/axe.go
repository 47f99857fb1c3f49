package browser

import (
	"archive/tar"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/chromedp/chromedp"

	"bellrow/testdata/require"
)

// axeVersion is pinned, so that a new rule is met on purpose.
const axeVersion = "axe-core@4.14.1"

// axeScript fetches the rules once for all tests of a package.
var axeScript = sync.OnceValues(fetchAxe)

// fetchAxe gets axe-core with npm into a temporary folder and returns its script.
func fetchAxe() (string, error) {
	npm, err := exec.LookPath("npm")
	if err != nil {
		return "", errors.New("no npm on this machine to fetch axe-core with")
	}
	dir, err := os.MkdirTemp("", "axe-*")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(dir)
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, npm, "pack", "--silent", axeVersion)
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		return "", fmt.Errorf("npm pack %s: %v: %s", axeVersion, err, out)
	}
	packs, err := filepath.Glob(filepath.Join(dir, "*.tgz"))
	if err != nil || len(packs) == 0 {
		return "", fmt.Errorf("npm pack %s left no package", axeVersion)
	}
	return fromPack(packs[0], "package/axe.min.js")
}

func fromPack(file, name string) (string, error) {
	f, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		return "", err
	}
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if err != nil {
			return "", fmt.Errorf("%s in %s: %w", name, file, err)
		}
		if h.Name == name {
			data, err := io.ReadAll(r)
			return string(data), err
		}
	}
}

// Rules to run: all of WCAG 2.0 to 2.2, levels A and AA, with the best
// practices; or those that look at colours, for a page that was checked in
// another theme: a theme changes colours alone.
const (
	allRules    = `["wcag2a","wcag2aa","wcag21a","wcag21aa","wcag22aa","best-practice"]`
	colourRules = `{type: "rule", values: ["color-contrast", "link-in-text-block"]}`
)

// axeRun returns one line per violation of the given rules.
const axeRun = `axe.run(document, {runOnly: %s}).then(r =>
  r.violations.flatMap(v => v.nodes.map(n => v.id + ": " + v.help + ": " + n.target.join(" ") + " " + n.failureSummary.replace(/\s+/g, " "))))`

// Axe reports every violation that axe-core finds on the page as it stands,
// in the theme "paper" and, for colours, in "stage". It skips the test where
// axe-core cannot be had.
func (b *Browser) Axe(what string) {
	b.t.Helper()
	for _, run := range []struct{ theme, rules string }{{"paper", allRules}, {"stage", colourRules}} {
		b.Theme(run.theme)
		for _, v := range b.violations(run.rules) {
			b.t.Errorf("%s, %s: %s", what, run.theme, v)
		}
	}
}

// Violations returns what axe-core finds on the page as it stands.
func (b *Browser) Violations() []string {
	b.t.Helper()
	return b.violations(allRules)
}

func (b *Browser) violations(rules string) []string {
	b.t.Helper()
	require.Registry(b.t, axeVersion)
	script, err := axeScript()
	if err != nil {
		require.Missing(b.t, "axe-core: "+strings.TrimSpace(err.Error()))
	}
	if !Eval[bool](b, "Boolean(window.axe)") {
		Eval[bool](b, script+"\n;true")
	}
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]string](fmt.Sprintf(axeRun, rules), chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("axe-core: %v", err)
	}
	return v
}
