package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// manualCommand writes the manual pages for a package, one for each command.
func manualCommand() *cobra.Command {
	return &cobra.Command{
		Use: "manual FOLDER", Short: "the manual pages, for a package", Hidden: true, Args: takes(1, 1, "folder", "name one that is there"),
		RunE: func(c *cobra.Command, words []string) error {
			for _, of := range append(c.Root().Commands(), c.Root()) {
				if of.Hidden || of.Name() == "help" {
					continue
				}
				if err := os.WriteFile(filepath.Join(words[0], manualName(of)+".1"), []byte(manual(of)), 0o644); err != nil {
					return say("name a folder that you may write to", "the manual cannot be written: %w", err)
				}
			}
			return nil
		},
	}
}

func manualName(c *cobra.Command) string { return strings.ReplaceAll(c.CommandPath(), " ", "-") }

// manual is a command's page in the macros of man(7).
func manual(c *cobra.Command) string {
	var b strings.Builder
	fmt.Fprintf(&b, ".TH %s 1 \"\" \"bellrow %s\" \"User commands\"\n.SH NAME\n%s \\- %s\n", strings.ToUpper(manualName(c)), roff(versionString()), manualName(c), roff(c.Short))
	fmt.Fprintf(&b, ".SH SYNOPSIS\n%s\n.SH DESCRIPTION\n%s\n", roff(c.UseLine()), roffText(c.Long))
	var others []string
	for _, s := range c.Root().Commands() {
		if !s.Hidden && s.Name() != "help" {
			others = append(others, "\\fB"+manualName(s)+"\\fR(1)")
			if c == c.Root() {
				fmt.Fprintf(&b, ".TP\n\\fB%s\\fR\n%s\n", s.Name(), roff(s.Short))
			}
		}
	}
	for i, f := range optionsOf(c) {
		if i == 0 {
			b.WriteString(".SH OPTIONS\n")
		}
		name, usage := pflag.UnquoteUsage(f)
		fmt.Fprintf(&b, ".TP\n\\fB\\-\\-%s\\fR \\fI%s\\fR\n%s", roff(f.Name), roff(name), roff(usage))
		if f.DefValue != "" && f.DefValue != "false" && f.DefValue != "[]" {
			fmt.Fprintf(&b, " (default %s)", roff(f.DefValue))
		}
		b.WriteString("\n")
	}
	fmt.Fprintf(&b, ".SH EXAMPLES\n.nf\n%s\n.fi\n", roff(c.Example))
	b.WriteString(".SH EXIT STATUS\n0 done, 1 could not be done, 2 the command line was not understood.\n")
	fmt.Fprintf(&b, ".SH SEE ALSO\n%s\n", strings.Join(others, ", "))
	return b.String()
}

func optionsOf(c *cobra.Command) (list []*pflag.Flag) {
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if !f.Hidden && f.Name != "help" {
			list = append(list, f)
		}
	})
	return list
}

// roff keeps a text from being taken for macros.
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(s)
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		if strings.HasPrefix(l, ".") || strings.HasPrefix(l, "'") {
			lines[i] = `\&` + l
		}
	}
	return strings.Join(lines, "\n")
}

// roffText sets paragraphs apart, and leaves indented lines as they are.
func roffText(s string) string {
	paragraphs := strings.Split(roff(s), "\n\n")
	for i, p := range paragraphs {
		if strings.HasPrefix(p, "  ") {
			paragraphs[i] = ".nf\n" + p + "\n.fi"
		}
	}
	return strings.Join(paragraphs, "\n.PP\n")
}
