package mutate

import (
	"bytes"
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
)

// edit is one way in which the source may be wrong.
type edit struct {
	id   int
	kind string
	file *source
	// from, to is the stretch of text that the edit is about, and is what it would read.
	from, to int
	is       string
	// changes make the text ask at run time whether this edit is the one that counts. %d
	// stands for the id.
	changes []change
}

// change replaces text[from:to].
type change struct {
	from, to int
	text     string
	side     side
}

// side is where an inserted text belongs: changes at one place nest like the
// stretches that they enclose.
type side int

const (
	closes side = iota
	stands
	opens
)

// lines is the first line of the edit as it was and as it would be, and its number.
func (e *edit) lines() (was, is string, line int) {
	text := string(e.file.text)
	begin := strings.LastIndexByte(text[:e.from], '\n') + 1
	end := len(text)
	if i := strings.IndexByte(text[e.from:], '\n'); i >= 0 {
		end = e.from + i
	}
	tail := ""
	if e.to < end {
		tail = text[e.to:end]
	}
	is = text[begin:e.from] + e.is + tail
	is, _, _ = strings.Cut(is, "\n")
	return strings.TrimSpace(text[begin:end]), strings.TrimSpace(is), 1 + strings.Count(text[:e.from], "\n")
}

// draw takes n edits by chance, all of them for 0, one at most of each place, in the order of
// the source, and numbers them.
func draw(all []*edit, n int, seed uint64) []*edit {
	rng := rand.New(rand.NewPCG(seed, 0))
	rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	type place struct {
		file     *source
		from, to int
	}
	taken := map[place]bool{}
	var out []*edit
	for _, e := range all {
		p := place{e.file, e.from, e.to}
		if taken[p] || n > 0 && len(out) == n {
			continue
		}
		taken[p] = true
		out = append(out, e)
	}
	slices.SortFunc(out, func(a, b *edit) int {
		return cmp.Or(strings.Compare(a.file.name, b.file.name), cmp.Compare(a.from, b.from), cmp.Compare(b.to, a.to))
	})
	for i, e := range out {
		e.id = i + 1
	}
	return out
}

// woven is a file's text with its edits built in.
func woven(s *source, edits []*edit) []byte {
	type numbered struct {
		change
		of *edit
	}
	var all []numbered
	for _, e := range edits {
		if e.file == s {
			for _, c := range e.changes {
				all = append(all, numbered{c, e})
			}
		}
	}
	// At one place what closes comes before what opens; of two that open the outer
	// comes first, of two that close the inner.
	slices.SortStableFunc(all, func(a, b numbered) int {
		if d := cmp.Or(cmp.Compare(a.from, b.from), cmp.Compare(a.side, b.side)); d != 0 {
			return d
		}
		outer := cmp.Or(cmp.Compare(b.of.to-b.of.from, a.of.to-a.of.from), cmp.Compare(a.of.id, b.of.id))
		if a.side == closes {
			return -outer
		}
		return outer
	})
	var out bytes.Buffer
	at := 0
	for _, c := range all {
		out.Write(s.text[at:c.from])
		out.WriteString(strings.ReplaceAll(c.text, "%d", fmt.Sprint(c.of.id)))
		at = c.to
	}
	out.Write(s.text[at:])
	return out.Bytes()
}
