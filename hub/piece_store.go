package hub

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"bellrow/hub/score"
)

// A piece is kept among the store's small values: the score, packed, under one
// key, and what changes while it is played through under another.
const (
	keyPiece      = "piece/"       // + section ID
	keyPieceState = "piece-state/" // + section ID
	// maxPackedPiece bounds the first; a 300-bar piece for twelve parts takes
	// about 100 kB. Longer ones last until the hub stops, and the page says so.
	maxPackedPiece = 2 << 20
	// maxUnpacked bounds what a damaged value may grow to.
	maxUnpacked = 256 << 20
)

// pieceState is who plays what, and what comes next.
type pieceState struct {
	Seats map[ChairID]int `json:"seats"`
	Next  int             `json:"next"`
}

// packScore writes what is needed of a score, compressed; "" where that is
// more than the store should hold.
func packScore(s *score.Score) (string, error) {
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
		return "", fmt.Errorf("hub: packing the piece: %w", err)
	}
	if base64.StdEncoding.EncodedLen(packed.Len()) > maxPackedPiece {
		return "", nil
	}
	return base64.StdEncoding.EncodeToString(packed.Bytes()), nil
}

func unpackScore(data string) (*score.Score, error) {
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

// savePiece queues the piece to be stored; data is its score, packed.
func (h *Hub) savePiece(data string) {
	h.saveValue(keyPiece+strconv.FormatInt(h.section.ID, 10), data)
	h.savePieceState()
}

func (h *Hub) savePieceState() {
	var st pieceState
	if h.piece != nil {
		st = pieceState{h.piece.seats, h.piece.next}
	}
	data, err := json.Marshal(st)
	if err != nil {
		h.log.Error("hub: the piece's state cannot be written", "err", err)
		return
	}
	h.saveValue(keyPieceState+strconv.FormatInt(h.section.ID, 10), string(data))
}

func (h *Hub) saveValue(key, value string) {
	h.journal.put(&write{key: key, do: func(ctx context.Context, s Store) error { return s.SetValue(ctx, key, value) }})
}

// restorePiece goes back to the piece of an earlier moment.
func (h *Hub) restorePiece(p *piece) {
	if p == h.piece {
		return
	}
	same := p != nil && h.piece != nil && p.score == h.piece.score
	h.piece = p
	switch {
	case same:
		h.savePieceState()
	case p == nil:
		h.savePiece("")
	default:
		data, err := packScore(p.score)
		if err != nil {
			h.log.Error("hub: the piece cannot be kept", "err", err)
		}
		h.savePiece(data)
	}
}

// loadPiece reads the section's piece from the store, nil when there is none.
// One that cannot be read is no reason not to start.
func (h *Hub) loadPiece(ctx context.Context, section int64) (*piece, error) {
	id := strconv.FormatInt(section, 10)
	data, err := h.value(ctx, keyPiece+id)
	if err != nil || data == "" {
		return nil, err
	}
	state, err := h.value(ctx, keyPieceState+id)
	if err != nil {
		return nil, err
	}
	var p *piece
	s, err := unpackScore(data)
	if err == nil {
		p, err = newPiece(s)
	}
	if err != nil {
		h.log.Error("hub: the stored piece cannot be read", "err", err)
		return nil, nil
	}
	var st pieceState
	if err := json.Unmarshal([]byte(state), &st); err != nil && state != "" {
		h.log.Error("hub: who plays what in the piece cannot be read", "err", err)
	}
	p.seats, p.next = map[ChairID]int{}, max(0, st.Next)
	for id, part := range st.Seats {
		if part >= 0 && part < len(s.Parts) {
			p.seats[id] = part
		}
	}
	return p, nil
}

// value reads one of the store's small values, "" when it was never set.
func (h *Hub) value(ctx context.Context, key string) (string, error) {
	v, err := h.store.Value(ctx, key)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return "", fmt.Errorf("hub: loading %s: %w", key, err)
	}
	return v, nil
}
