package preset

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestLoad(t *testing.T) {
	none := func(string) string { return "" }
	for _, tt := range []struct {
		name, file string
		env        map[string]string
		want       Preset
		fault      string
	}{
		{"nothing", "", nil, Preset{}, ""},
		{"both", "# room 12\nhub = 192.168.4.20:7440\n\nsection=Hill Brass\n", nil, Preset{"192.168.4.20:7440", "Hill Brass"}, ""},
		{"written on Windows", "\ufeffsection = Hill Brass\r\n", nil, Preset{"", "Hill Brass"}, ""},
		{"the environment goes first", "section = Hill Brass", map[string]string{"BELLROW_SECTION": "Quay", "BELLROW_HUB": "10.0.0.2:7440"}, Preset{"10.0.0.2:7440", "Quay"}, ""},
		{"another word", "hub = 10.0.0.2:7440\ncolour = blue", nil, Preset{}, "line 2: there is no \"colour\""},
		{"no value", "hub", nil, Preset{}, "line 1: \"hub\" is not NAME = VALUE"},
		{"no address", "hub = a b", nil, Preset{}, "line 1"},
		{"a long name", "section = " + strings.Repeat("a", 100), nil, Preset{}, "100 characters"},
		{"a bad variable", "", map[string]string{"BELLROW_HUB": "a b"}, Preset{}, "BELLROW_HUB"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), FileName)
			if tt.file != "" {
				if err := os.WriteFile(path, []byte(tt.file), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			got, err := Load([]string{filepath.Join(t.TempDir(), FileName), path}, func(k string) string { return tt.env[k] })
			switch {
			case tt.fault == "" && (err != nil || got != tt.want):
				t.Errorf("%+v, %v; want %+v", got, err, tt.want)
			case tt.fault != "" && (err == nil || !strings.Contains(err.Error(), tt.fault)):
				t.Errorf("error %v, want %q in it", err, tt.fault)
			}
		})
	}
	if p := Places("/opt/bellrow/bellrow", "linux", none); p[0] != filepath.FromSlash("/opt/bellrow/bellrow.conf") || p[1] != filepath.FromSlash("/etc/bellrow.conf") {
		t.Errorf("places %q", p)
	}
}
