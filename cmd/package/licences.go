package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
)

// licences gathers the licences of everything that is linked into a program:
// the project's, the typeface's, Go's and each module's. A module without one
// is an error.
func (b *builder) licences(ctx context.Context, system, arch string, flags ...string) ([]byte, error) {
	args := append([]string{"list", "-deps", "-f", `{{with .Module}}{{if not .Main}}{{.Path}}|{{.Version}}|{{.Dir}}{{end}}{{end}}`}, flags...)
	cmd := exec.CommandContext(ctx, "go", append(args, "./cmd/bellrow")...)
	cmd.Dir, cmd.Env = b.root, append(os.Environ(), "GOOS="+system, "GOARCH="+arch)
	var faults bytes.Buffer
	cmd.Stderr = &faults
	text, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w\n%s", err, faults.Bytes())
	}
	modules := strings.Fields(string(text))
	slices.Sort(modules)
	var out bytes.Buffer
	add := func(name, file string) error {
		text, err := os.ReadFile(file)
		fmt.Fprintf(&out, "%s\n%s\n\n%s\n\n", name, strings.Repeat("=", len(name)), bytes.TrimSpace(text))
		return err
	}
	err = errors.Join(
		add("bellrow", filepath.Join(b.root, "LICENSE")),
		add("Besley, the typeface", filepath.Join(b.root, "proto/page/files/besley-licence.txt")),
		add("Go, its runtime and standard library, "+runtime.Version(), filepath.Join(goroot(ctx), "LICENSE")),
	)
	for _, m := range slices.Compact(modules) {
		parts := strings.Split(m, "|")
		files, globbing := licenceFiles(parts[2])
		err = errors.Join(err, globbing)
		if len(files) == 0 {
			err = errors.Join(err, fmt.Errorf("%s has no licence", parts[0]))
		}
		for _, f := range files {
			err = errors.Join(err, add(parts[0]+" "+parts[1]+", "+filepath.Base(f), f))
		}
	}
	return out.Bytes(), err
}

// licenceFiles finds what a module says of its licence.
func licenceFiles(dir string) (files []string, err error) {
	list, err := os.ReadDir(dir)
	for _, f := range list {
		name := strings.ToUpper(f.Name())
		for _, like := range []string{"LICEN", "UNLICEN", "COPYING", "NOTICE", "PATENTS", "AUTHORS"} {
			if f.Type()&fs.ModeType == 0 && strings.HasPrefix(name, like) {
				files = append(files, filepath.Join(dir, f.Name()))
				break
			}
		}
	}
	return files, err
}

func goroot(ctx context.Context) string {
	text, err := exec.CommandContext(ctx, "go", "env", "GOROOT").Output()
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(text))
}
