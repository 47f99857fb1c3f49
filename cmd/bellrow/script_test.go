package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"bellrow/cmd/bellrow/plain"
	"bellrow/node/capture"
	"bellrow/node/simulate/tone"
)

// TestMain lets the scripts run this program as a process of its own.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"bellrow": main})
}

// TestScripts runs testdata/script. Beside testscript's own there are
//
//	refused STATUS WORDS ARGUMENTS...  the program ends with STATUS, prints
//	                                   nothing, and says WORDS in one sentence
//	                                   with a line below that says what to do
//	sound FILE                         makes a recording of one held note
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: filepath.Join("testdata", "script"), RequireExplicitExec: true, ContinueOnError: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("HOME", e.WorkDir)
			e.Setenv("AppData", e.WorkDir) // Windows
			e.Setenv("LocalAppData", e.WorkDir)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"refused": refused, "sound": sound},
	})
}

func refused(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: refused STATUS WORDS ARGUMENTS...")
	}
	err := ts.Exec("bellrow", args[2:]...)
	out, said := ts.ReadFile("stdout"), ts.ReadFile("stderr")
	status := "0"
	var ended *exec.ExitError
	if errors.As(err, &ended) {
		status = string(rune('0' + ended.ExitCode()))
	}
	lines := strings.Split(strings.TrimSuffix(said, "\n"), "\n")
	_, sentence, _ := strings.Cut(lines[0], ": ") // behind the program's name
	switch {
	case status != args[0]:
		ts.Fatalf("status %s, want %s; stderr: %s", status, args[0], said)
	case out != "":
		ts.Fatalf("it prints %q", out)
	case !strings.Contains(sentence, args[1]):
		ts.Fatalf("it says %q, want %q in it", sentence, args[1])
	case len(lines) != 2 || !strings.HasPrefix(lines[1], "  ") || strings.TrimSpace(lines[1]) == "":
		ts.Fatalf("it says %q, want a sentence and a line with what to do", said)
	case plain.Sentence(errors.New(sentence)) != sentence:
		ts.Fatalf("a package is named in %q", sentence)
	}
}

func sound(ts *testscript.TestScript, _ bool, args []string) {
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), heldNote(), 0o600))
}

// heldNote is a recording of a trumpet's B flat, 1.5 seconds between silences.
func heldNote() []byte {
	const rate = 48000
	tn, err := tone.New(tone.Natural(tone.Config{Rate: rate, F0: 466.16, Voice: tone.Trumpet, Duration: 1.5, Level: -20, Seed: 1}))
	if err != nil {
		panic(err)
	}
	note := make([]float64, rate*3/2)
	tn.Read(note)
	var file bytes.Buffer
	if err := capture.WriteWAV(&file, slices.Concat(make([]float64, rate/2), note, make([]float64, rate/2)), rate); err != nil {
		panic(err)
	}
	return file.Bytes()
}

// TestExamplesRun runs what --help gives as examples.
func TestExamplesRun(t *testing.T) {
	if testing.Short() {
		t.Skip("the demo plays for a minute")
	}
	quay, err := os.ReadFile(filepath.Join("..", "..", "hub", "testdata", "quay.musicxml"))
	if err != nil {
		t.Fatal(err)
	}
	quay = bytes.ReplaceAll(quay, []byte("Trumpet in B♭"), []byte("Trumpet 1"))
	for _, c := range program(env{}).Commands() {
		if c.Hidden || c.Name() == "help" {
			continue
		}
		if c.Example == "" || c.Long == "" && c.Name() != "version" {
			t.Errorf("%s explains itself by no example, or not at all", c.Name())
		}
		for _, line := range strings.Split(c.Example, "\n") {
			t.Run(line, func(t *testing.T) {
				if c.Name() == "check" && !strings.Contains(line, "--wav") || c.Name() == "demo" {
					t.Skip("needs a microphone, or a minute; both have tests of their own")
				}
				t.Chdir(t.TempDir())
				home := t.TempDir()
				t.Setenv("HOME", home)
				t.Setenv("XDG_CONFIG_HOME", "")
				t.Setenv("XDG_DATA_HOME", "")
				if strings.Contains(line, "rehearsal.wav") {
					if err := os.Rename(writeWAV(t, "rehearsal.wav", rehearsalSound(1e-4), 48000), "rehearsal.wav"); err != nil {
						t.Fatal(err)
					}
				}
				for name, data := range map[string][]byte{"note.wav": heldNote(), "chorale.musicxml": quay, "notes.txt": []byte("Bb4 +12\nC5 +8\nD5 +10\n")} {
					if err := os.WriteFile(name, data, 0o600); err != nil {
						t.Fatal(err)
					}
				}
				runExample(t, c.Name(), typed(t, line)[1:])
			})
		}
	}
}

// runExample runs a command until it ends by itself, or, for those that serve,
// until it has said where.
func runExample(t *testing.T, name string, args []string) {
	switch name {
	case "hub":
		args = append(args, "--listen", "127.0.0.1:0", "--phones", "127.0.0.1:0", "--no-announce")
	case "node":
		args = append(args, "--no-search", "--page", "127.0.0.1:0")
	case "restore":
		if code, _, errs := trial(t, "backup", "--data", records(t), "--to", "monday.db"); code != exitOK {
			t.Fatal(errs)
		}
		args = append(args, "--data", t.TempDir())
	case "report", "backup":
		seen := records(t)
		args = append(args, "--data", seen)
		if i := slices.Index(args, "Horn 2"); i >= 0 {
			args[i] = "Tuba"
		}
	}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var out, errs bytes.Buffer
	w := &tripwire{w: &out, do: func() {
		if name == "hub" || name == "node" {
			stop()
		}
	}}
	if code := run(ctx, env{strings.NewReader(""), w, &errs}, args); code != exitOK {
		t.Errorf("status %d: %s", code, errs.String())
	}
	if out.Len() == 0 {
		t.Error("it prints nothing")
	}
}

// tripwire does something at the first write.
type tripwire struct {
	w    *bytes.Buffer
	do   func()
	once sync.Once
}

func (u *tripwire) Write(p []byte) (int, error) {
	defer u.once.Do(u.do)
	return u.w.Write(p)
}

// typed splits a line as a shell does, as far as the examples need it.
func typed(t *testing.T, line string) (args []string) {
	t.Helper()
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 1 {
			args[len(args)-1] += part
			continue
		}
		fields := strings.Fields(part)
		if i > 0 && part != "" && part[0] != ' ' {
			t.Fatalf("a quote ends within a word: %s", line)
		}
		args = append(args, fields...)
		if strings.HasSuffix(part, " ") {
			args = append(args, "")
		}
	}
	if args[len(args)-1] == "" {
		args = args[:len(args)-1]
	}
	return args
}
