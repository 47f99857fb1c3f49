package main

import (
	"flag"
	"io"
	"slices"
	"testing"
)

func TestMixed(t *testing.T) {
	for _, tt := range []struct {
		name  string
		args  []string
		names []string
		json  bool
		a4    float64
	}{
		{"options first", []string{"--json", "--a4", "442", "a", "b"}, []string{"a", "b"}, true, 442},
		{"options last", []string{"a", "b", "--json", "--a4=442"}, []string{"a", "b"}, true, 442},
		{"between", []string{"a", "--json", "b"}, []string{"a", "b"}, true, 440},
		{"a name like an option", []string{"a", "--", "--json", "b"}, []string{"a", "--json", "b"}, false, 440},
		{"nothing", nil, nil, false, 440},
	} {
		t.Run(tt.name, func(t *testing.T) {
			fs := flag.NewFlagSet("read", flag.ContinueOnError)
			fs.SetOutput(io.Discard)
			json, a4 := fs.Bool("json", false, ""), fs.Float64("a4", 440, "")
			names, err := mixed(fs, tt.args)
			if err != nil || !slices.Equal(names, tt.names) || *json != tt.json || *a4 != tt.a4 {
				t.Errorf("names %q, json %v, a4 %g, error %v", names, *json, *a4, err)
			}
		})
	}
}
