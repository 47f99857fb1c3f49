package proto

import (
	"fmt"
	"net/netip"
	"strconv"
	"strings"
)

// TXT is what a hub tells about itself in its DNS-SD TXT record (RFC 6763,
// section 6). It holds nothing secret.
type TXT struct {
	Version   int          // "v": protocol version
	Hub       string       // "id": hub id, to tell two hubs of one name apart
	Name      string       // "n": section name
	TLS       bool         // "tls": "1" if the hub speaks TLS only
	Addresses []netip.Addr // "a", "a2", …: all addresses of the hub
}

// Sizes in a TXT record: one string is at most 255 bytes (RFC 6763, section
// 6.1) and the whole should stay below 1300 bytes, to fit one packet (6.2).
const (
	maxTXTString    = 255
	maxTXT          = 1300
	maxTXTAddresses = 32
)

// Strings returns the record's key=value strings. Addresses beyond the size
// limit are left out, the last ones first.
func (t TXT) Strings() []string {
	out := []string{"v=" + strconv.Itoa(t.Version), "id=" + t.Hub}
	if t.Name != "" {
		out = append(out, "n="+cut(t.Name, maxTXTString-2))
	}
	if t.TLS {
		out = append(out, "tls=1")
	}
	size := 0
	for _, s := range out {
		size += len(s) + 1
	}
	line, n := "", 0
	flush := func() {
		if line != "" {
			out = append(out, line)
			size += len(line) + 1
			line = ""
		}
	}
	for i, a := range t.Addresses {
		s := a.WithZone("").String()
		if i >= maxTXTAddresses || size+len(line)+len(s)+8 > maxTXT {
			break
		}
		if line != "" && len(line)+1+len(s) > maxTXTString {
			flush()
		}
		if line == "" {
			n++
			line = addressKey(n) + "=" + s
		} else {
			line += "," + s
		}
	}
	flush()
	return out
}

func addressKey(n int) string {
	if n == 1 {
		return "a"
	}
	return "a" + strconv.Itoa(n)
}

// cut shortens s to at most n bytes without splitting a character.
func cut(s string, n int) string {
	for i := range s {
		if i > n {
			s = s[:i]
			break
		}
	}
	for len(s) > n {
		r := []rune(s)
		s = string(r[:len(r)-1])
	}
	return s
}

// ParseTXT reads the strings of a TXT record. Keys are case-insensitive, the
// first of a repeated key counts (RFC 6763, section 6.4), unknown keys are
// ignored. It fails if version or hub id are missing or malformed; malformed
// addresses are dropped.
func ParseTXT(strs []string) (TXT, error) {
	values := map[string]string{}
	for _, s := range strs {
		k, v, _ := strings.Cut(s, "=")
		k = strings.ToLower(k)
		if _, seen := values[k]; !seen && len(values) < 64 {
			values[k] = v
		}
	}
	version, err := strconv.Atoi(values["v"])
	if err != nil || version < 1 || version > 1e6 {
		return TXT{}, fmt.Errorf("proto: TXT record with version %.20q, need a number", values["v"])
	}
	t := TXT{Version: version, Hub: values["id"], Name: cut(values["n"], maxTXTString-2), TLS: values["tls"] == "1"}
	var c check
	c.id("id", t.Hub, false)
	if c.err != nil {
		return TXT{}, fmt.Errorf("proto: TXT record: %w", c.err)
	}
	if !Printable(t.Name) {
		t.Name = ""
	}
	for n := 1; n <= maxTXTAddresses && len(t.Addresses) < maxTXTAddresses; n++ {
		line, ok := values[addressKey(n)]
		if !ok {
			break
		}
		t.Addresses = appendAddresses(t.Addresses, line)
	}
	return t, nil
}

func appendAddresses(to []netip.Addr, line string) []netip.Addr {
	for s := range strings.SplitSeq(line, ",") {
		a, err := netip.ParseAddr(s)
		if err != nil || a.Zone() != "" || a.IsMulticast() || a.IsUnspecified() || len(to) >= maxTXTAddresses {
			continue
		}
		to = append(to, a.Unmap())
	}
	return to
}
