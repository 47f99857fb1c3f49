package find

import (
	"strings"
	"unicode/utf8"

	"bellrow/proto"
)

// unescape undoes the escapes of DNS presentation format (RFC 1035, section
// 5.1): "\." and "\195\182".
func unescape(s string) string {
	if !strings.ContainsRune(s, '\\') {
		return s
	}
	b := make([]byte, 0, len(s))
	for i := 0; i < len(s); i++ {
		switch {
		case s[i] != '\\' || i+1 == len(s):
			b = append(b, s[i])
		case i+3 < len(s) && digits(s[i+1:i+4]):
			b = append(b, byte(int(s[i+1]-'0')*100+int(s[i+2]-'0')*10+int(s[i+3]-'0')))
			i += 3
		default:
			i++
			b = append(b, s[i])
		}
	}
	return string(b)
}

func digits(s string) bool {
	for _, r := range s {
		if r < '0' || r > '9' {
			return false
		}
	}
	return true
}

// instance returns the readable instance name of a full service name, and
// whether that names our service at all. DNS names compare without case (RFC
// 6762, section 16).
func instance(full string) (string, bool) {
	suffix := "." + proto.Service + "." + proto.Domain
	n := len(full) - len(suffix)
	if n <= 0 || !strings.EqualFold(full[n:], suffix) {
		return "", false
	}
	label := full[:n]
	if slashes := len(label) - len(strings.TrimRight(label, `\`)); slashes%2 == 1 {
		return "", false // the dot before our suffix is part of a name
	}
	name := unescape(label)
	if !utf8.ValidString(name) || !proto.Printable(name) {
		return "", false
	}
	return name, true
}
