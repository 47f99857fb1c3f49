package score

import (
	"errors"
	"fmt"
	"io"
)

// Limits of what is read. They are far above any ensemble's score and far
// below what would trouble a laptop.
const (
	MaxXMLBytes     = 64 << 20 // a full orchestral act is about 30 MB
	MaxArchiveBytes = 16 << 20 // the same, compressed
	MaxEntries      = 1000     // files in an archive: pages of images come along
	MaxParts        = 200
	MaxBars         = 20000
	MaxNotes        = 1000000
	MaxElements     = 4000000 // an element takes 20 bytes and more in real scores
	MaxDepth        = 60      // MusicXML nests about ten deep
	MaxRunBytes     = 1 << 20 // the longest text or tag: lyrics and names are far shorter
	MaxTextBytes    = 1000    // of any text that is kept
)

// ErrTooBig means that a limit was passed; ErrForbidden that the file tries
// something a score has no need of; ErrNotMusicXML that it is something else.
var (
	ErrTooBig      = errors.New("score: too big")
	ErrForbidden   = errors.New("score: refused")
	ErrNotMusicXML = errors.New("score: not MusicXML")
)

// guard is a reader that stops at a number of bytes and at runs of text or
// markup longer than MaxRunBytes, before a parser can gather them.
type guard struct {
	r    io.Reader
	left int64
	run  int
}

func (g *guard) Read(p []byte) (int, error) {
	if g.left < 0 {
		return 0, fmt.Errorf("%w: more than %d MB of XML", ErrTooBig, MaxXMLBytes>>20)
	}
	n, err := g.r.Read(p)
	g.left -= int64(n)
	for _, c := range p[:n] {
		if c == '<' || c == '>' {
			g.run = 0
			continue
		}
		if g.run++; g.run > MaxRunBytes {
			return 0, fmt.Errorf("%w: a text or tag of more than %d kB", ErrTooBig, MaxRunBytes>>10)
		}
	}
	return n, err
}
