package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"bellrow/cmd/bellrow/plain"
)

// env is the outside world of a command, so that tests can stand in for it.
type env struct {
	stdin          io.Reader
	stdout, stderr io.Writer
}

// say and misused make errors for people; see plain.
var say, misused = plain.Fail, plain.Misuse

// Exit statuses.
const (
	exitOK     = 0
	exitFailed = 1 // the command could not do its job
	exitUsage  = 2 // the command line was not understood
)

// commands makes the verbs in the order of the usage text.
func commands(e env) []*cobra.Command {
	return []*cobra.Command{
		hubCommand(e), nodeCommand(e), demoCommand(e), soloCommand(e), checkCommand(e), readCommand(e), chordCommand(e),
		pieceCommand(e), reportCommand(e), backupCommand(e), restoreCommand(e), adviseCommand(e), instrumentsCommand(e), completionCommand(e), versionCommand(e), manualCommand(),
	}
}

// program makes the whole tree. What it prints, its completion and its manual
// pages all come from here.
func program(e env) *cobra.Command {
	root := &cobra.Command{
		Use: "bellrow", Short: "tune a brass section over the local network",
		Long: `bellrow tunes a brass section over the local network. Without a command, as by a
double click, it opens a page on which one chooses to lead or to play.

Exit status: 0 done, 1 could not be done, 2 the command line was not understood.`,
		Example:       "bellrow demo --headless",
		SilenceErrors: true, SilenceUsage: true, DisableFlagsInUseLine: true,
		CompletionOptions: cobra.CompletionOptions{DisableDefaultCmd: true},
		Args:              cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, words []string) error {
			if len(words) > 0 {
				return noCommand(c, words[0])
			}
			return launch(c.Context(), e)
		},
	}
	root.SetIn(e.stdin)
	root.SetOut(e.stdout)
	root.SetErr(e.stderr)
	root.SetUsageTemplate(usageTemplate)
	root.SetFlagErrorFunc(flagError)
	for _, c := range commands(e) {
		c.DisableFlagsInUseLine = true
		if c.HasFlags() {
			c.Use += " [options]"
		}
		root.AddCommand(c)
	}
	root.SetHelpCommand(&cobra.Command{
		Use: "help [COMMAND]", Short: "the options of a command", Args: cobra.ArbitraryArgs, ValidArgsFunction: completeCommands,
		RunE: func(_ *cobra.Command, words []string) error {
			c, rest, err := root.Find(words)
			if err != nil || len(rest) > 0 {
				return noCommand(root, strings.Join(words, " "))
			}
			c.InitDefaultHelpFlag()
			return c.Help()
		},
	})
	return root
}

const usageTemplate = `usage: {{.UseLine}}{{if .HasAvailableSubCommands}} COMMAND [options]

commands:{{range .Commands}}{{if .IsAvailableCommand}}
  {{rpad .Name .NamePadding}} {{.Short}}{{end}}{{end}}

Options of a command: bellrow COMMAND --help{{else if .HasAvailableLocalFlags}}

options:
{{.LocalFlags.FlagUsages | trimTrailingWhitespaces}}{{end}}{{if .HasExample}}

for example:
{{.Example}}{{end}}
`

func noCommand(root *cobra.Command, name string) error {
	var names []string
	for _, c := range root.Commands() {
		if c.IsAvailableCommand() {
			names = append(names, c.Name())
		}
	}
	hint := "the commands are " + strings.Join(names, ", ")
	if near := root.SuggestionsFor(name); len(near) > 0 {
		hint = "perhaps bellrow " + near[0] + "; " + hint
	}
	return misused(hint, "there is no command %q", name)
}

func completeCommands(c *cobra.Command, words []string, _ string) (names []string, _ cobra.ShellCompDirective) {
	if len(words) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	for _, s := range c.Root().Commands() {
		names = append(names, s.Name())
	}
	return names, cobra.ShellCompDirectiveNoFileComp
}

// flagError words what pflag could not read.
func flagError(c *cobra.Command, err error) error {
	help := c.CommandPath() + " --help lists the options"
	if e, ok := errors.AsType[*pflag.NotExistError](err); ok {
		if short := e.GetSpecifiedShortnames(); short != "" {
			return misused(help, "there is no option -%s", short)
		}
		return misused(help, "there is no option --%s", e.GetSpecifiedName())
	}
	if e, ok := errors.AsType[*pflag.ValueRequiredError](err); ok {
		return misused(help, "--%s has no value", e.GetSpecifiedName())
	}
	if e, ok := errors.AsType[*pflag.InvalidValueError](err); ok {
		if own, ok := errors.AsType[*plain.Error](err); ok {
			return misused(own.Hint, "--%s %s: %w", e.GetFlag().Name, e.GetValue(), own.Err)
		}
		return misused(help, "--%s cannot be %q", e.GetFlag().Name, e.GetValue())
	}
	return misused(help, "%v", err)
}

// run finds the command and turns its error into a sentence and a status.
func run(ctx context.Context, e env, args []string) int {
	root := program(e)
	args = slices.DeleteFunc(slices.Clone(args), func(a string) bool { return strings.HasPrefix(a, "-psn_") }) // of the Finder of older macOS
	root.SetArgs(dashes(args))
	c, err := root.ExecuteContextC(ctx)
	if err == nil {
		return exitOK
	}
	plain.Print(e.stderr, c.CommandPath(), err)
	if own, ok := errors.AsType[*plain.Error](err); ok && own.Misuse {
		return exitUsage
	}
	return exitFailed
}

// dashes lets options begin with one dash as well as with two: there are no
// short ones but -h.
func dashes(args []string) []string {
	out := make([]string, len(args))
	for i, a := range args {
		if a == "--" {
			copy(out[i:], args[i:])
			break
		}
		if len(a) > 2 && a[0] == '-' && (a[1] >= 'a' && a[1] <= 'z') {
			a = "-" + a
		}
		out[i] = a
	}
	return out
}

// takes accepts so many words after the options; hint says what they are.
func takes(low, high int, what, hint string) cobra.PositionalArgs {
	return func(_ *cobra.Command, words []string) error {
		switch {
		case high == 0 && len(words) > 0:
			return misused(hint, "%q is not an option", words[0])
		case len(words) < low, len(words) > high:
			return misused(hint, "%d %ss, need %s", len(words), what, number(low, high))
		}
		return nil
	}
}

func number(low, high int) string {
	switch {
	case low == high && low == 1:
		return "one"
	case high == many:
		return "one or more"
	}
	return fmt.Sprintf("at most %d", high)
}

// many is more words than a command line holds.
const many = 1 << 20

// noWords takes nothing but options.
func noWords(hint string) cobra.PositionalArgs { return takes(0, 0, "", hint) }

// oneOf refuses two of the options that exclude one another.
func oneOf(c *cobra.Command, names ...string) error {
	var given []string
	for _, n := range names {
		if c.Flags().Changed(n) {
			given = append(given, n)
		}
	}
	if len(given) < 2 {
		return nil
	}
	return misused("choose one", "--%s exclude one another", strings.Join(names[:len(names)-1], ", --")+" and --"+names[len(names)-1])
}

// needs refuses an option that has a use only beside one of others.
func needs(c *cobra.Command, name string, others ...string) error {
	if !c.Flags().Changed(name) {
		return nil
	}
	for _, o := range others {
		if c.Flags().Changed(o) {
			return nil
		}
	}
	with := "--" + strings.Join(others, " or --")
	return misused("add "+with+", or leave it out", "--%s has a use only with %s", name, with)
}

// without refuses an option that has no use beside one of others.
func without(c *cobra.Command, name string, others ...string) error {
	for _, o := range others {
		if c.Flags().Changed(name) && c.Flags().Changed(o) {
			return misused("leave it out", "--%s has no use with --%s", name, o)
		}
	}
	return nil
}

// first returns the first error.
func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
