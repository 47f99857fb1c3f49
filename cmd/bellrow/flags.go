package main

import (
	"fmt"
	"log/slog"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"bellrow/cmd/bellrow/plain"
	"bellrow/cmd/bellrow/preset"
	"bellrow/hub/access"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Options that several commands share are declared here, once.

// text declares an option that is a word.
func text(c *cobra.Command, p *string, name, value, usage string) {
	c.Flags().StringVar(p, name, value, usage)
}

// flag declares an option that is on or off.
func flag(c *cobra.Command, p *bool, name, usage string) { c.Flags().BoolVar(p, name, false, usage) }

// bounded is an option's number within bounds: never NaN, never infinite.
type bounded struct {
	p         *float64
	low, high float64
	hint      string
}

func (b bounded) String() string { return strconv.FormatFloat(*b.p, 'g', -1, 64) }
func (b bounded) Type() string   { return "NUMBER" }

func (b bounded) Set(s string) error {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || !(x >= b.low && x <= b.high) {
		return misused(b.hint, "not a number from %g to %g", b.low, b.high)
	}
	*b.p = x
	return nil
}

// within declares an option that is a number; hint says what is usual.
func within(c *cobra.Command, p *float64, name string, value, low, high float64, usage, hint string) {
	*p = value
	c.Flags().Var(bounded{p, low, high, hint}, name, usage)
}

// read is an option whose text is understood by a function when it is given.
type read struct {
	text string
	take func(string) error
	kind string
}

func (r *read) String() string { return r.text }
func (r *read) Type() string   { return r.kind }
func (r *read) Set(s string) error {
	r.text = s
	return r.take(s)
}

// taken declares an option that take understands; kind names its value.
func taken(c *cobra.Command, name, kind, value, usage string, take func(string) error) {
	c.Flags().Var(&read{value, take, kind}, name, usage)
}

// choice declares an option with a few words to choose from.
func choice[T ~string](c *cobra.Command, p *T, name string, value T, usage string, words ...T) {
	*p = value
	var list []string
	for _, w := range words {
		list = append(list, string(w))
	}
	taken(c, name, "WORD", string(value), usage, func(s string) error {
		for _, w := range words {
			if s == string(w) {
				*p = w
				return nil
			}
		}
		return misused("choose one of them", "not one of %s", strings.Join(list, ", "))
	})
	_ = c.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(list, cobra.ShellCompDirectiveNoFileComp)) // fails only for a flag that is not there
}

// referenceFlag declares the reference pitch, within the bounds of pitch.NewReference.
func referenceFlag(c *cobra.Command, p *pitch.Reference) {
	*p = pitch.Reference{}
	taken(c, "a4", "HZ", strconv.FormatFloat(float64(pitch.StandardA4), 'g', -1, 64), "reference pitch A4 in `HZ`", func(s string) error {
		const usual = "the usual reference is 440, 442 or 443"
		hz, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return misused(usual, "not a number of Hz")
		}
		if *p, err = pitch.NewReference(pitch.Hertz(hz)); err != nil {
			return misused(usual, "%v", err)
		}
		return nil
	})
}

// typedNotes is how the notes of a command are named, and the options that are notes.
// Those are understood once all options are known, by read.
type typedNotes struct {
	*plain.Notes
	typed []func() error
}

// namesFlag declares how notes are named.
func namesFlag(c *cobra.Command, p *plain.Notes) *typedNotes {
	taken(c, "names", "WORD", p.Style.String(), "how notes are typed and named: english, german (H, B, Fis), dutch, french, spanish or italian (Do Re Mi); german-helmholtz and french-french with their octaves", func(s string) (err error) {
		if p.Style, err = pitch.ParseStyle(s); err != nil {
			return misused("for example --names german", "%v", err)
		}
		p.Chosen = true
		return nil
	})
	return &typedNotes{Notes: p}
}

// flag declares an option that is a note.
func (n *typedNotes) flag(c *cobra.Command, p *pitch.Note, name, value, usage string) {
	if value != "" {
		*p, _ = pitch.ParseNote(value) // a default is a note
	}
	taken(c, name, "NOTE", value, usage, func(s string) error {
		n.typed = append(n.typed, func() error {
			x, err := n.Parse(s)
			if err != nil {
				return misused("for example --"+name+" "+n.Style.Of(70), "%v", err)
			}
			*p = x.Note()
			return nil
		})
		return nil
	})
}

// read understands the notes that were typed as options.
func (n *typedNotes) read() error {
	for _, typed := range n.typed {
		if err := typed(); err != nil {
			return err
		}
	}
	return nil
}

// tell says what another reader would take for another note, on the side of what
// a command prints.
func tell(e env, n *plain.Notes) {
	for _, d := range n.Doubts() {
		fmt.Fprintln(e.stderr, d)
	}
}

// instrumentFlag declares the instrument, nil until it is given.
func instrumentFlag(c *cobra.Command, p **instrument.Instrument, usage string) {
	taken(c, "instrument", "ID", "", usage, func(s string) (err error) {
		*p, err = findInstrument(s)
		return err
	})
	_ = c.RegisterFlagCompletionFunc("instrument", completeInstruments) // fails only for a flag that is not there
}

func findInstrument(id string) (*instrument.Instrument, error) {
	in, err := instrument.Find(instrument.ID(id))
	if err != nil {
		return nil, misused("bellrow instruments lists them all", "%v", err)
	}
	return in, nil
}

func completeInstruments(*cobra.Command, []string, string) (ids []string, _ cobra.ShellCompDirective) {
	for _, in := range instrument.Band() {
		ids = append(ids, string(in.ID)+"\t"+in.Name)
	}
	return ids, cobra.ShellCompDirectiveNoFileComp
}

// hubFlag declares the address of the hub, empty until it is given.
func hubFlag(c *cobra.Command, p *string) {
	taken(c, "hub", "ADDRESS", "", "`ADDRESS` or link of the hub; without it the hub is searched for", func(s string) error {
		*p = s
		_, err := parseLink(s)
		return err
	})
}

func parseLink(s string) (proto.Link, error) {
	l, err := proto.ParseLink(s)
	if err != nil {
		return l, misused("give --hub as host:port, or paste the players' link", "%v", err)
	}
	return l, nil
}

// deviceFlag declares the microphone.
func deviceFlag(c *cobra.Command, p *string) {
	text(c, p, "device", "", "microphone by `NAME`; bellrow check lists them")
}

// dateFlag declares a day, the zero time until it is given.
func dateFlag(c *cobra.Command, p *time.Time, name, usage string) {
	taken(c, name, "DATE", "", usage, func(s string) (err error) {
		if *p, err = time.ParseInLocation(time.DateOnly, s, time.Local); err != nil {
			return misused("write dates as year-month-day, such as 2030-01-31", "%q is no date", s)
		}
		return nil
	})
}

// jsonFlag declares the answer for machines.
func jsonFlag(c *cobra.Command, p *bool) { flag(c, p, "json", "print JSON") }

// logFlag declares --verbose.
func logFlag(c *cobra.Command, p *bool) { flag(c, p, "verbose", "log details to stderr") }

// dataFlag declares the hub's data folder; see folderGiven.
func dataFlag(c *cobra.Command, p *string) {
	text(c, p, "data", "", "data `FOLDER` of the hub; without it bellrow/hub where this user's programs keep their data")
}

// folderGiven puts the usual folder where none was given, and refuses to go on
// where there is no usual one.
func folderGiven(c *cobra.Command, option string, p *string, name string) error {
	if c.Flags().Changed(option) {
		return nil
	}
	if *p = defaultFolder(name); *p == "" {
		return say("set HOME, or give a folder with --"+option, "this user has no home folder, so there is no usual place for what bellrow keeps")
	}
	return nil
}

// presets puts what was set beforehand where the option was not given.
func presets(c *cobra.Command, option string, p *string, which func(preset.Preset) string) error {
	if c.Flags().Changed(option) {
		return nil
	}
	set, err := presetHere()
	*p = which(set)
	return err
}

func hubOf(p preset.Preset) string     { return p.Hub }
func sectionOf(p preset.Preset) string { return p.Section }

// logger logs warnings, and details with verbose, neither without bound.
func logger(e env, verbose bool) *slog.Logger {
	level := slog.LevelWarn
	if verbose {
		level = slog.LevelDebug
	}
	return slog.New(access.Quiet(slog.NewTextHandler(e.stderr, &slog.HandlerOptions{Level: level}), nil))
}

// Bounds of what makes sense on the command line.
const (
	maxTypedCents = 2400 // two octaves: more is a typing mistake
	maxShortest   = 1000 // longer than any held note, in quarter notes
)
