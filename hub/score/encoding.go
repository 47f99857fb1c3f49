package score

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// utf8Reader turns a document with a byte-order mark into UTF-8 and leaves
// others as they are.
func utf8Reader(r *bufio.Reader) io.Reader {
	mark, _ := r.Peek(3)
	switch {
	case len(mark) >= 2 && mark[0] == 0xFE && mark[1] == 0xFF:
		return &utf16Reader{r: r, high: 0, low: 1}
	case len(mark) >= 2 && mark[0] == 0xFF && mark[1] == 0xFE:
		return &utf16Reader{r: r, high: 1, low: 0}
	case len(mark) == 3 && mark[0] == 0xEF && mark[1] == 0xBB && mark[2] == 0xBF:
		_, _ = r.Discard(3) // just peeked
	}
	return r
}

// utf16Reader decodes UTF-16 as it is read.
type utf16Reader struct {
	r         *bufio.Reader
	high, low int // places of the bytes of a unit
	pending   []byte
	started   bool
}

func (u *utf16Reader) unit() (rune, error) {
	var b [2]byte
	if _, err := io.ReadFull(u.r, b[:]); err != nil {
		return 0, err
	}
	return rune(b[u.high])<<8 | rune(b[u.low]), nil
}

func (u *utf16Reader) Read(p []byte) (int, error) {
	for len(u.pending) < len(p) {
		c, err := u.unit()
		if err == io.ErrUnexpectedEOF {
			err = fmt.Errorf("%w: half a character at the end", ErrNotMusicXML)
		}
		if err != nil {
			if len(u.pending) > 0 {
				break
			}
			return 0, err
		}
		if utf16.IsSurrogate(c) {
			second, err := u.unit()
			if err != nil {
				second = utf8.RuneError
			}
			c = utf16.DecodeRune(c, second)
		}
		if !u.started { // the mark itself
			u.started = true
			continue
		}
		u.pending = utf8.AppendRune(u.pending, c)
	}
	n := copy(p, u.pending)
	u.pending = append(u.pending[:0], u.pending[n:]...)
	return n, nil
}

// charset is the decoder of encodings that an XML declaration may name.
func charset(label string, input io.Reader) (io.Reader, error) {
	switch strings.ToLower(label) {
	case "utf-8", "us-ascii", "ascii", "utf-16", "utf-16le", "utf-16be": // UTF-16 was decoded by its mark
		return input, nil
	case "iso-8859-1", "latin1", "iso_8859-1", "windows-1252":
		return &latinReader{r: input}, nil
	}
	return nil, fmt.Errorf("%w: encoding %q, need UTF-8, UTF-16 or ISO 8859-1", ErrNotMusicXML, clip(label))
}

// latinReader decodes ISO 8859-1, where every byte is its own character.
type latinReader struct {
	r       io.Reader
	pending []byte
}

func (l *latinReader) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	if len(l.pending) == 0 {
		raw := make([]byte, max(1, len(p)/2))
		n, err := l.r.Read(raw)
		if n == 0 {
			return 0, err
		}
		for _, b := range raw[:n] {
			l.pending = utf8.AppendRune(l.pending, rune(b))
		}
	}
	n := copy(p, l.pending)
	l.pending = append(l.pending[:0], l.pending[n:]...)
	return n, nil
}
