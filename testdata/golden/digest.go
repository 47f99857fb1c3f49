package golden

import (
	"cmp"
	"encoding/json"
	"fmt"
	"hash/fnv"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// Digest makes one short line of all lines that begin with the same word: how many there
// are, the sum of the numbers at each place and a check sum of the words at each. A wide
// walk that nobody would read line by line is kept so: an edit that changes any of its
// lines changes the digest, and a narrower walk shows how. The order of lines that begin
// alike makes no difference.
func Digest(text string) string {
	type column struct {
		numbers int
		sum     float64
		words   uint32
	}
	lines, columns := map[string]int{}, map[string][]column{}
	var order []string
	for _, line := range strings.Split(strings.TrimSpace(text), "\n") {
		key, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
		if lines[key]++; lines[key] == 1 {
			order = append(order, key)
		}
		for i, word := range strings.Fields(rest) {
			// Words far along a line are a sentence's: one sum will do.
			i = min(i, mostColumns-1)
			for len(columns[key]) <= i {
				columns[key] = append(columns[key], column{})
			}
			c := &columns[key][i]
			if x, err := strconv.ParseFloat(strings.Trim(word, around), 64); err == nil && x-x == 0 {
				c.numbers++
				c.sum += x
				continue
			}
			h := fnv.New32a()
			h.Write([]byte(word))
			c.words += h.Sum32()
		}
	}
	slices.SortFunc(order, cmp.Compare[string])
	var out strings.Builder
	for _, key := range order {
		fmt.Fprintf(&out, "%s ×%d", key, lines[key])
		for _, c := range columns[key] {
			if c.numbers > 0 {
				fmt.Fprintf(&out, " %.6g", c.sum)
			}
			if c.words != 0 {
				fmt.Fprintf(&out, " #%08x", c.words)
			}
		}
		out.WriteString("\n")
	}
	return out.String()
}

// mostColumns is how many places of a line have a sum of their own.
const mostColumns = 16

// Fields writes x as JSON, a line for each field: its name after prefix, and its value.
func Fields(t *testing.T, prefix string, x any) string {
	t.Helper()
	text, err := json.Marshal(x)
	if err != nil {
		t.Fatal(err)
	}
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(text, &fields); err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	for key, value := range fields {
		fmt.Fprintf(&out, "%s%s %s\n", prefix, key, value)
	}
	return out.String()
}
