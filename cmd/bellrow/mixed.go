package main

import "flag"

// mixed reads options that stand before, between and after file names, as
// people type them, and returns the names. Behind "--" all are names.
func mixed(fs *flag.FlagSet, args []string) (names []string, err error) {
	for {
		if err := parse(fs, args); err != nil {
			return nil, err
		}
		rest := fs.Args()
		if len(rest) == 0 {
			return names, nil
		}
		if at := len(args) - len(rest); at > 0 && args[at-1] == "--" {
			return append(names, rest...), nil
		}
		names, args = append(names, rest[0]), rest[1:]
	}
}
