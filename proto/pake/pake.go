// Package pake lets two sides prove to one another that they know the same
// secret, be it as short as a join code, without sending it: CPace, the
// balanced password-authenticated key exchange chosen by the CFRG, in the suite
// CPACE-X25519-SHA512 of draft-irtf-cfrg-cpace-21, in the order initiator then
// responder, with the explicit key confirmation of its section 10.4.
//
// Whoever listens in, or poses as the other side, learns nothing that could be
// tried against a list of codes afterwards: each exchange tests one guess, and
// the side that is asked can count.
//
// No kept Go module does this, so it is built here on kept ones: X25519 from the
// standard library, field arithmetic from filippo.io/edwards25519. The
// draft's vectors are in the tests.
package pake

import (
	"crypto/ecdh"
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha512"
	"encoding/base64"
	"encoding/binary"
	"errors"

	"filippo.io/edwards25519/field"
)

// Sizes in bytes.
const (
	SessionSize = 16
	ShareSize   = 32
	TagSize     = sha512.Size
)

// ErrShare means that the other side's share is no point that can be used.
var ErrShare = errors.New("pake: the other side's share is not valid")

// NewSession returns the random name of an exchange, which the initiator makes.
func NewSession() []byte {
	sid := make([]byte, SessionSize)
	rand.Read(sid) // never fails (crypto/rand)
	return sid
}

// Channel names the channel of a connection between node and hub: the hex
// SHA-256 of the certificate that is shown on it, empty for plain HTTP.
func Channel(fingerprint string) []byte {
	if fingerprint == "" {
		fingerprint = "plain"
	}
	return []byte("bellrow 1 " + fingerprint)
}

// Party is one side of one exchange. It serves once.
type Party struct {
	sid    []byte
	secret *ecdh.PrivateKey
	share  []byte
}

// Start begins an exchange over secret. The channel says what is spoken over and
// what for; the exchange fails unless both sides see the same.
func Start(secret, channel, session []byte) (*Party, error) {
	key, err := ecdh.X25519().GenerateKey(rand.Reader)
	if err != nil {
		return nil, err
	}
	return start(key, secret, channel, session)
}

func start(key *ecdh.PrivateKey, secret, channel, session []byte) (*Party, error) {
	share, err := times(key, generator(secret, channel, session))
	if err != nil {
		return nil, err
	}
	return &Party{sid: session, secret: key, share: share}, nil
}

// Share is what goes to the other side.
func (p *Party) Share() []byte { return p.share }

// Keys are what an exchange leaves: equal on both sides if, and only if, both
// knew the same secret.
type Keys struct {
	sid, isk             []byte
	initiator, responder []byte // shares with what they are bound to
}

// Initiator ends the exchange for the side that began it. a and b are what
// initiator and responder say about themselves; both sides must agree on them.
func (p *Party) Initiator(other, a, b []byte) (*Keys, error) {
	return p.finish(other, cat(p.share, a), cat(other, b))
}

// Responder ends it for the side that was asked.
func (p *Party) Responder(other, a, b []byte) (*Keys, error) {
	return p.finish(other, cat(other, a), cat(p.share, b))
}

func (p *Party) finish(other, initiator, responder []byte) (*Keys, error) {
	k, err := times(p.secret, other)
	if err != nil {
		return nil, err
	}
	h := sha512.New()
	h.Write(cat([]byte("CPace255_ISK"), p.sid, k))
	h.Write(initiator)
	h.Write(responder)
	return &Keys{sid: p.sid, isk: h.Sum(nil), initiator: initiator, responder: responder}, nil
}

// InitiatorTag and ResponderTag are what each side shows to prove its keys.
func (k *Keys) InitiatorTag() []byte { return k.tag(k.initiator) }

// ResponderTag see InitiatorTag.
func (k *Keys) ResponderTag() []byte { return k.tag(k.responder) }

func (k *Keys) tag(of []byte) []byte {
	h := sha512.New()
	h.Write([]byte("CPaceMac"))
	h.Write(k.sid)
	h.Write(k.isk)
	m := hmac.New(sha512.New, h.Sum(nil))
	m.Write(of)
	return m.Sum(nil)
}

// Equal compares tags in constant time.
func Equal(a, b []byte) bool { return hmac.Equal(a, b) }

// Token derives a secret for later, 32 bytes in URL-safe base 64, that was
// never sent.
func (k *Keys) Token() string {
	t, err := hkdf.Key(sha512.New, k.isk, k.sid, "bellrow token", 32)
	if err != nil {
		panic("pake: " + err.Error()) // only for lengths out of range
	}
	return base64.RawURLEncoding.EncodeToString(t)
}

// times multiplies a point of Curve25519, and refuses those of low order.
func times(key *ecdh.PrivateKey, point []byte) ([]byte, error) {
	p, err := ecdh.X25519().NewPublicKey(point)
	if err != nil {
		return nil, ErrShare
	}
	product, err := key.ECDH(p)
	if err != nil {
		return nil, ErrShare
	}
	return product, nil
}

// generator hashes secret, channel and session to a point (draft, sections 7.1
// and 7.2): the padding makes the secret fill the first block of the hash.
func generator(secret, channel, session []byte) []byte {
	dsi := []byte("CPace255")
	pad := max(0, sha512.BlockSize-1-len(cat(secret))-len(cat(dsi)))
	sum := sha512.Sum512(cat(dsi, secret, make([]byte, pad), channel, session))
	return elligator(sum[:32])
}

// elligator maps 32 bytes to the u-coordinate of a point: Elligator 2 for
// Curve25519 (RFC 9380, section 6.7.1), in constant time.
func elligator(b []byte) []byte {
	r, err := new(field.Element).SetBytes(b) // ignores the top bit, as RFC 7748 does
	if err != nil {
		panic("pake: " + err.Error()) // only for a wrong length
	}
	one := new(field.Element).One()
	j := new(field.Element).Mult32(one, 486662)
	// x1 = -J / (1 + 2r²); 1 + 2r² is never 0, since -1/2 is no square.
	d := new(field.Element).Square(r)
	d.Add(d, d).Add(d, one).Invert(d)
	x1 := new(field.Element).Multiply(new(field.Element).Negate(j), d)
	// g = x1³ + J·x1² + x1
	g := new(field.Element).Add(x1, j)
	g.Multiply(g, x1).Add(g, one).Multiply(g, x1)
	_, square := new(field.Element).SqrtRatio(g, one)
	x2 := new(field.Element).Negate(x1)
	x2.Subtract(x2, j)
	return new(field.Element).Select(x1, x2, square).Bytes()
}

// cat is lv_cat of the draft: each part behind its length in LEB128.
func cat(parts ...[]byte) []byte {
	var out []byte
	for _, p := range parts {
		out = binary.AppendUvarint(out, uint64(len(p)))
		out = append(out, p...)
	}
	return out
}
