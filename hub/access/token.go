package access

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
)

// NewSecret returns 32 random bytes in URL-safe base 64: 43 characters.
func NewSecret() string {
	var b [32]byte
	rand.Read(b[:]) // never fails (crypto/rand)
	return base64.RawURLEncoding.EncodeToString(b[:])
}

// NewToken returns a token for a node and the hash to keep.
func NewToken() (token string, hash []byte) {
	token = NewSecret()
	return token, HashToken(token)
}

// HashToken returns the SHA-256 of a token.
func HashToken(token string) []byte {
	h := sha256.Sum256([]byte(token))
	return h[:]
}
