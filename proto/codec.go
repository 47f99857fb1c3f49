package proto

import (
	"encoding/json"
	"errors"
	"fmt"
	"unicode/utf8"
)

// Limits in bytes on one message. A node's ordinary message is below 1 KiB;
// MaxPlain leaves room for later fields. Partial tracks and whole views are
// larger. A WebSocket endpoint sets its read limit to the larger of the two
// that it may receive.
const (
	MaxPlain = 4 << 10
	MaxTrack = 32 << 10
	MaxView  = 64 << 10
)

// Errors of Decode that callers branch on.
var (
	// ErrUnknownType means a message of a type that this version does not
	// know. It is to be skipped, not punished: a newer peer may send it.
	ErrUnknownType = errors.New("proto: unknown message type")
	// ErrTooLarge means a message beyond its type's limit.
	ErrTooLarge = errors.New("proto: message too large")
	// ErrInvalid means bytes that are no message: bad UTF-8, bad JSON, a missing
	// payload, or a value outside its range.
	ErrInvalid = errors.New("proto: invalid message")
)

// Encode validates m and returns its JSON text. Messages that Encode accepts
// are accepted by Decode.
func Encode(m Message) ([]byte, error) {
	if err := m.Validate(); err != nil {
		return nil, err
	}
	data, err := json.Marshal(m)
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrInvalid, err)
	}
	if n := limit(m.Type); len(data) > n {
		return nil, fmt.Errorf("%w: %s of %d bytes, limit %d", ErrTooLarge, m.Type, len(data), n)
	}
	return data, nil
}

// Decode parses and validates one message. It allocates in proportion to
// len(data) only. The error wraps ErrUnknownType, ErrTooLarge or ErrInvalid;
// with ErrUnknownType the returned message carries its Type.
func Decode(data []byte) (Message, error) {
	if len(data) > MaxView {
		return Message{}, fmt.Errorf("%w: %d bytes, limit %d", ErrTooLarge, len(data), MaxView)
	}
	if !utf8.Valid(data) {
		return Message{}, fmt.Errorf("%w: not UTF-8", ErrInvalid)
	}
	var m Message
	if err := json.Unmarshal(data, &m); err != nil {
		return unreadable(data, err)
	}
	if !m.Type.known() {
		return Message{Type: m.Type}, fmt.Errorf("%w %.20q", ErrUnknownType, m.Type)
	}
	if n := limit(m.Type); len(data) > n {
		return Message{}, fmt.Errorf("%w: %s of %d bytes, limit %d", ErrTooLarge, m.Type, len(data), n)
	}
	if err := m.Validate(); err != nil {
		return Message{}, err
	}
	return m, nil
}

// unreadable looks whether data that did not fit Message is of an unknown
// type: a newer peer may give an old field name a new shape there.
func unreadable(data []byte, cause error) (Message, error) {
	var head struct {
		Type Type `json:"type"`
	}
	if err := json.Unmarshal(data, &head); err == nil && head.Type != "" && !head.Type.known() {
		return Message{Type: head.Type}, fmt.Errorf("%w %.20q", ErrUnknownType, head.Type)
	}
	return Message{}, fmt.Errorf("%w: %v", ErrInvalid, cause)
}

// FromNode reports whether nodes send t; FromHub whether hubs do.
func (t Type) FromNode() bool {
	switch t {
	case TypeHello, TypeReading, TypeState, TypeTrack, TypeSetting, TypePing, TypeProof:
		return true
	}
	return false
}

// FromHub reports whether hubs send t.
func (t Type) FromHub() bool {
	switch t {
	case TypeWelcome, TypeView, TypeAck, TypePong, TypeError, TypeProof:
		return true
	}
	return false
}

func (t Type) known() bool { return t.FromNode() || t.FromHub() }

func limit(t Type) int {
	switch t {
	case TypeTrack:
		return MaxTrack
	case TypeView:
		return MaxView
	}
	return MaxPlain
}
