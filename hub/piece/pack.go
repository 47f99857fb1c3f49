package piece

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"bellrow/hub/score"
	"bellrow/proto/instrument"
)

const (
	// maxPacked bounds what is kept; a 300-bar piece for twelve parts takes
	// about 100 kB. Longer ones last until the hub stops, and the page says so.
	maxPacked = 2 << 20
	// maxUnpacked bounds what a damaged value may grow to.
	maxUnpacked = 256 << 20
)

// Packed is what is to be kept of the score, empty where that is more than a
// store should hold. It does not change while the piece is played through.
func (p *Piece) Packed() string { return p.packed }

// State is what changes while the piece is played through: who plays what, and
// what comes next.
func (p *Piece) State() (string, error) {
	data, err := json.Marshal(state{p.seats, p.next, p.said})
	return string(data), err
}

type state struct {
	Seats map[int64]int         `json:"seats"`
	Next  int                   `json:"next"`
	Said  map[int]instrument.ID `json:"said,omitempty"`
}

// Unpack makes a piece of what Packed and State gave. It is nil when the score
// cannot be read; where only the state cannot, nobody has a part.
func Unpack(packed, kept string) (*Piece, error) {
	s, err := unpack(packed)
	if err != nil {
		return nil, fmt.Errorf("piece: reading the kept score: %w", err)
	}
	p, err := New(s, score.Held)
	if err != nil {
		return nil, err
	}
	p.packed = packed
	var st state
	if kept != "" {
		if err = json.Unmarshal([]byte(kept), &st); err != nil {
			err = fmt.Errorf("piece: reading who plays what: %w", err)
		}
	}
	return p.with(func(p *Piece) {
		p.next = max(0, st.Next)
		for part, id := range st.Said {
			if _, err := instrument.Find(id); err == nil && part >= 0 && part < len(s.Parts) {
				p.said[part] = id
			}
		}
		for id, part := range st.Seats {
			if part >= 0 && part < len(s.Parts) {
				p.seats[id] = part
			}
		}
	}), err
}

// pack writes what is needed of a score, compressed; "" when that is too much.
func pack(s *score.Score) (string, error) {
	small := *s
	small.Parts = slices.Clone(s.Parts)
	for i := range small.Parts {
		notes := slices.Clone(small.Parts[i].Notes)
		for k := range notes {
			notes[k].Voice = ""
		}
		small.Parts[i].Notes = notes
	}
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	if err := errors.Join(json.NewEncoder(z).Encode(small), z.Close()); err != nil {
		return "", fmt.Errorf("piece: packing the score: %w", err)
	}
	if base64.StdEncoding.EncodedLen(packed.Len()) > maxPacked {
		return "", nil
	}
	return base64.StdEncoding.EncodeToString(packed.Bytes()), nil
}

func unpack(data string) (*score.Score, error) {
	z, err := gzip.NewReader(base64.NewDecoder(base64.StdEncoding, strings.NewReader(data)))
	if err != nil {
		return nil, err
	}
	var s score.Score
	if err := json.NewDecoder(io.LimitReader(z, maxUnpacked)).Decode(&s); err != nil {
		return nil, err
	}
	return &s, nil
}
