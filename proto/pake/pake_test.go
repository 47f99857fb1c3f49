package pake

import (
	"bytes"
	"crypto/ecdh"
	"crypto/hmac"
	"crypto/sha512"
	"encoding/hex"
	"strings"
	"testing"
)

func unhex(t *testing.T, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ToLower(s))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func key(t *testing.T, s string) *ecdh.PrivateKey {
	t.Helper()
	k, err := ecdh.X25519().NewPrivateKey(unhex(t, s))
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// The vectors of draft-irtf-cfrg-cpace-21, appendix B.1. It has none for the
// tags: they are made here from its key as section 10.4 words it.
func TestDraftVectors(t *testing.T) {
	secret, channel := []byte("Password"), unhex(t, "6f630b425f726573706f6e6465720b415f696e69746961746f72")
	sid := unhex(t, "7e4b4791d6a8ef019b936c79fb7f2c57")
	same := func(what string, got []byte, want string) {
		t.Helper()
		if !bytes.Equal(got, unhex(t, want)) {
			t.Errorf("%s is %x, want %s", what, got, want)
		}
	}
	same("generator", generator(secret, channel, sid), "64e8099e3ea682cfdc5cb665c057ebb514d06bf23ebc9f743b51b82242327074")
	a, err := start(key(t, "21b4f4bd9e64ed355c3eb676a28ebedaf6d8f17bdc365995b319097153044080"), secret, channel, sid)
	if err != nil {
		t.Fatal(err)
	}
	b, err := start(key(t, "848b0779ff415f0af4ea14df9dd1d3c29ac41d836c7808896c4eba19c51ac40a"), secret, channel, sid)
	if err != nil {
		t.Fatal(err)
	}
	same("initiator's share", a.Share(), "1b02dad6dbd29a07b6d28c9e04cb2f184f0734350e32bb7e62ff9dbcfdb63d15")
	same("responder's share", b.Share(), "20cda5955f82c4931545bcbf40758ce1010d7db4db2a907013d79c7a8fcf957f")
	ka, err := a.Initiator(b.Share(), []byte("ADa"), []byte("ADb"))
	if err != nil {
		t.Fatal(err)
	}
	kb, err := b.Responder(a.Share(), []byte("ADa"), []byte("ADb"))
	if err != nil {
		t.Fatal(err)
	}
	const isk = "a051ee5ee2499d16da3f69f430218b8ea94a18a45b67f9e86495b382c33d14a5c38cecc0cc834f960e39e0d1bf7d76b9ef5d54eecc5e0f386c97ad12da8c3d5f"
	same("initiator's key", ka.isk, isk)
	same("responder's key", kb.isk, isk)
	mac := sha512.Sum512(append([]byte("CPaceMac"), append(sid, unhex(t, isk)...)...))
	tag := func(share, says string) string {
		m := hmac.New(sha512.New, mac[:])
		m.Write(append([]byte{32}, unhex(t, share)...))
		m.Write(append([]byte{byte(len(says))}, says...))
		return hex.EncodeToString(m.Sum(nil))
	}
	same("initiator's tag", ka.InitiatorTag(), tag("1b02dad6dbd29a07b6d28c9e04cb2f184f0734350e32bb7e62ff9dbcfdb63d15", "ADa"))
	same("responder's tag", kb.ResponderTag(), tag("20cda5955f82c4931545bcbf40758ce1010d7db4db2a907013d79c7a8fcf957f", "ADb"))
}

// exchange runs a whole exchange and returns both sides' keys.
func exchange(t *testing.T, secretA, secretB, channelA, channelB, a, b string) (ka, kb *Keys) {
	t.Helper()
	sid := NewSession()
	pa, err := Start([]byte(secretA), []byte(channelA), sid)
	if err != nil {
		t.Fatal(err)
	}
	pb, err := Start([]byte(secretB), []byte(channelB), sid)
	if err != nil {
		t.Fatal(err)
	}
	if ka, err = pa.Initiator(pb.Share(), []byte(a), []byte(b)); err != nil {
		t.Fatal(err)
	}
	if kb, err = pb.Responder(pa.Share(), []byte("node"), []byte("hub")); err != nil {
		t.Fatal(err)
	}
	return ka, kb
}

func TestBothSidesAgreeOnlyOverTheSameSecret(t *testing.T) {
	for _, c := range []struct {
		what                                       string
		secretA, secretB, channelA, channelB, a, b string
		want                                       bool
	}{
		{"same secret", "K7M4QX", "K7M4QX", "c", "c", "node", "hub", true},
		{"another secret", "K7M4QX", "K7M4QY", "c", "c", "node", "hub", false},
		{"another channel, as one who passes it on over TLS of his own", "K7M4QX", "K7M4QX", "c", "d", "node", "hub", false},
		{"another hub", "K7M4QX", "K7M4QX", "c", "c", "node", "hub2", false},
		{"another node", "K7M4QX", "K7M4QX", "c", "c", "node2", "hub", false},
		{"no secret", "", "K7M4QX", "c", "c", "node", "hub", false},
	} {
		ka, kb := exchange(t, c.secretA, c.secretB, c.channelA, c.channelB, c.a, c.b)
		for what, got := range map[string]bool{
			"initiator's tag": Equal(ka.InitiatorTag(), kb.InitiatorTag()), "responder's tag": Equal(ka.ResponderTag(), kb.ResponderTag()),
			"token": ka.Token() == kb.Token(),
		} {
			if got != c.want {
				t.Errorf("%s: %s agree: %v, want %v", c.what, what, got, c.want)
			}
		}
		if Equal(ka.InitiatorTag(), ka.ResponderTag()) {
			t.Errorf("%s: a tag can be sent back", c.what)
		}
	}
	first, _ := exchange(t, "K7M4QX", "K7M4QX", "c", "c", "node", "hub")
	second, _ := exchange(t, "K7M4QX", "K7M4QX", "c", "c", "node", "hub")
	if first.Token() == second.Token() {
		t.Error("two exchanges leave one token")
	}
}

// Points of low order would fix the key whatever the secret (RFC 7748,
// section 6.1).
func TestLowOrderIsRefused(t *testing.T) {
	p, err := Start([]byte("K7M4QX"), nil, NewSession())
	if err != nil {
		t.Fatal(err)
	}
	for _, share := range [][]byte{nil, make([]byte, 32), append([]byte{1}, make([]byte, 31)...), make([]byte, 31),
		unhex(t, "e0eb7a7c3b41b8ae1656e3faf19fc46ada098deb9c32b1fd866205165f49b800"),
		unhex(t, "ecffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f")} {
		if _, err := p.Initiator(share, nil, nil); err == nil {
			t.Errorf("share %x was accepted", share)
		}
	}
}

func BenchmarkExchange(b *testing.B) {
	for b.Loop() {
		sid := NewSession()
		p, _ := Start([]byte("K7M4QX"), nil, sid)
		q, _ := Start([]byte("K7M4QX"), nil, sid)
		k, _ := p.Initiator(q.Share(), nil, nil)
		k.InitiatorTag()
		k.ResponderTag()
	}
}
