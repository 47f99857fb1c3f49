package proto

import (
	"strings"
	"testing"
)

func TestNewJoinCode(t *testing.T) {
	seen := map[string]bool{}
	counts := map[rune]int{}
	const n = 3000
	for range n {
		c := NewJoinCode()
		if got, err := NormalJoin(c); err != nil || got != c {
			t.Fatalf("%q: %q, %v", c, got, err)
		}
		seen[c] = true
		for _, r := range c {
			counts[r]++
		}
	}
	if len(seen) < n-2 { // n²/2 pairs over 8.5e11 codes: 0.000005 expected
		t.Errorf("%d different codes of %d", len(seen), n)
	}
	mean := float64(n*JoinLength) / float64(len(JoinAlphabet))
	for _, r := range JoinAlphabet {
		if c := float64(counts[r]); c < 0.75*mean || c > 1.25*mean { // 6 standard deviations
			t.Errorf("%c came %g times, mean %g", r, c, mean)
		}
	}
}

func TestNormalJoin(t *testing.T) {
	for typed, want := range map[string]string{
		"K7M4QX": "K7M4QX", "k7m4qx": "K7M4QX", " k7m-4qx ": "K7M4QX", "K7M 4QX": "K7M4QX",
		"K7M4QXWP": "K7M4QXWP", "k7m4 qxwp": "K7M4QXWP", "K7M4Q": "", "K7M4QXX": "", "K7M4QXWPP": "", "": "", "K7M4Q0": "", "K7M4QI": "", "K7M4Qö": "", strings.Repeat("K", 1000): "",
	} {
		got, err := NormalJoin(typed)
		if got != want || (err == nil) != (want != "") {
			t.Errorf("%q: %q, %v, want %q", typed, got, err, want)
		}
	}
}

func TestParseLink(t *testing.T) {
	fp := strings.Repeat("ab", 32)
	for typed, want := range map[string]Link{
		"192.0.2.7":           {Address: "192.0.2.7:7440"},
		" 192.0.2.7:8080\n":   {Address: "192.0.2.7:8080"},
		"2001:db8::7":         {Address: "[2001:db8::7]:7440"},
		"[2001:db8::7]:80":    {Address: "[2001:db8::7]:80"},
		"fe80::7%eth0":        {Address: "[fe80::7%eth0]:7440"},
		"laptop.local":        {Address: "laptop.local:7440"},
		"laptop.local:9":      {Address: "laptop.local:9"},
		"http://192.0.2.7:80": {Address: "192.0.2.7:80"},
		"http://192.0.2.7:7440/join#code=k7m4qx&hub=h1":         {Address: "192.0.2.7:7440", Code: "K7M4QX", Hub: "h1"},
		"https://192.0.2.7:7440/join#code=K7M4QX&fp=" + fp:      {Address: "192.0.2.7:7440", TLS: true, Code: "K7M4QX", Fingerprint: fp},
		"http://[2001:db8::7]:7440/join#later=x&code=K7M-4QX&x": {Address: "[2001:db8::7]:7440", Code: "K7M4QX"},
	} {
		got, err := ParseLink(typed)
		if err != nil || got != want {
			t.Errorf("%q: %+v, %v, want %+v", typed, got, err, want)
			continue
		}
		if again, err := ParseLink(got.String()); err != nil || again != got {
			t.Errorf("%q: %q gives %+v, %v", typed, got.String(), again, err)
		}
	}
	for _, typed := range []string{
		"", "http://", "ftp://192.0.2.7/", "http://user:pw@192.0.2.7/", "192.0.2.7:0", "192.0.2.7:70000", "192.0.2.7:x",
		"a b", "-a", "a..b", "http://192.0.2.7/join#code=wrong", "http://192.0.2.7/join#fp=12", "http://192.0.2.7/join#hub=a/b",
		"javascript:alert(1)", "http://192.0.2.7/#%zz", strings.Repeat("a", 5000),
	} {
		if got, err := ParseLink(typed); err == nil {
			t.Errorf("%.60q: %+v, want an error", typed, got)
		}
	}
}

// FuzzLink: whatever parses gives a link that parses to the same.
func FuzzLink(f *testing.F) {
	f.Add("192.0.2.7:7440")
	f.Add("[fe80::1%eth0]:1")
	f.Add("https://laptop.local/join#code=K7M4QX&hub=h1&fp=" + strings.Repeat("0f", 32))
	f.Fuzz(func(t *testing.T, typed string) {
		l, err := ParseLink(typed)
		if err != nil {
			return
		}
		if again, err := ParseLink(l.String()); err != nil || again != l {
			t.Fatalf("%q: %+v, %q gives %+v, %v", typed, l, l.String(), again, err)
		}
	})
}

// FuzzJoin: whatever is a code is one in its one form.
func FuzzJoin(f *testing.F) {
	f.Add("k7m-4qx")
	f.Add("K7M 4QX")
	f.Fuzz(func(t *testing.T, typed string) {
		code, err := NormalJoin(typed)
		if err != nil {
			return
		}
		if again, err := NormalJoin(code); err != nil || again != code || len(code) != JoinLength && len(code) != ShortLength {
			t.Fatalf("%q: %q, %q, %v", typed, code, again, err)
		}
	})
}
