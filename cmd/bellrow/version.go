package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// version is set by the release build (-ldflags "-X main.version=v1.2.3"); a
// build from source says what the toolchain recorded.
var version = ""

func versionString() string {
	if version != "" {
		return version
	}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		return info.Main.Version
	}
	return "(devel)"
}

func versionCommand(e env) *cobra.Command {
	return &cobra.Command{
		Use: "version", Short: "the version of this program", Args: noWords("bellrow version stands alone"), Example: "bellrow version",
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprintf(e.stdout, "bellrow %s %s/%s %s\n", versionString(), runtime.GOOS, runtime.GOARCH, runtime.Version())
			return err
		},
	}
}

func completionCommand(e env) *cobra.Command {
	return &cobra.Command{
		Use: "completion SHELL", Short: "completion of commands and options for bash, zsh or fish",
		Long: `Prints a script that completes commands, options and instruments. For good:

  bash  bellrow completion bash >~/.local/share/bash-completion/completions/bellrow
  zsh   bellrow completion zsh >"${fpath[1]}/_bellrow"
  fish  bellrow completion fish >~/.config/fish/completions/bellrow.fish`,
		Example: "bellrow completion bash",
		Args:    takes(1, 1, "shell", "bash, zsh or fish"), ValidArgs: []string{"bash", "zsh", "fish"},
		RunE: func(c *cobra.Command, words []string) error {
			switch root := c.Root(); words[0] {
			case "bash":
				return root.GenBashCompletionV2(e.stdout, true)
			case "zsh":
				return root.GenZshCompletion(e.stdout)
			case "fish":
				return root.GenFishCompletion(e.stdout, true)
			}
			return misused("bash, zsh or fish", "there is no completion for %q", words[0])
		},
	}
}
