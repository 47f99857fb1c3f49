package result

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func record(command, output string) Record {
	return Record{Command: command, At: time.Date(2026, 11, 28, 9, 0, 0, 0, time.UTC), Commit: "abc1234", Machine: "one", Processor: 1500 * time.Millisecond, Output: output}
}

// TestPut: a command that is run again takes the place of its own figures, and
// of nothing else.
func TestPut(t *testing.T) {
	const heading = "## `b`\n" // printed by a program, so it heads no section
	doc := Put("", "moves", record("a", "one\n"+heading))
	doc = strings.TrimRight(doc, "\n") + "\n\n## By hand\n\nkept\n"
	doc = Put(doc, "moves", record("b", "two"))
	doc = Put(doc, "moves", record("a", "three"))
	want := "# moves\n\n" + record("a", "three").Section() + "\n## By hand\n\nkept\n\n" + record("b", "two").Section()
	if doc != want {
		t.Errorf("got\n%s\nwant\n%s", doc, want)
	}
	if again := Put(doc, "moves", record("b", "two")); again != doc {
		t.Errorf("the same figures changed the file:\n%s", again)
	}
}

func TestSection(t *testing.T) {
	got := record("go run ./cmd/proof moves", "x\n\n").Section()
	for _, want := range []string{"## `go run ./cmd/proof moves`\n", "2026-11-28, commit abc1234, go", ", one, 1.5 s of processor time.", "```\nx\n```\n"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is missing in\n%s", want, got)
		}
	}
}

func TestQuoted(t *testing.T) {
	if got, want := quoted([]string{"go", "test", "-run", "A|B", "it's"}), `go test -run 'A|B' 'it'\''s'`; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestWrite(t *testing.T) {
	dir := t.TempDir()
	for range 2 {
		if err := Write(dir, "moves", record("a", "one")); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(filepath.Join(dir, "moves.md"))
	if want := Put("", "moves", record("a", "one")); err != nil || string(got) != want {
		t.Errorf("got %s (%v), want %s", got, err, want)
	}
	for _, bad := range []string{"", "../up", "A", "a.md"} {
		if Write(dir, bad, record("a", "one")) == nil {
			t.Errorf("subject %q is taken", bad)
		}
	}
	if Write(filepath.Join(dir, "none"), "moves", record("a", "one")) == nil {
		t.Error("a missing folder is taken")
	}
}
