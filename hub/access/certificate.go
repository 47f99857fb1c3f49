package access

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// certificateFor is how long a self-signed certificate holds. Nodes pin the
// certificate and look at no date; browsers show a warning anyway.
const certificateFor = 20 * 365 * 24 * time.Hour

// The hub's own key and certificate in its data folder.
const (
	certName = "hub-cert.pem"
	keyName  = "hub-key.pem"
)

// KeyFiles are the files of the data folder that a backup needs beside the
// database.
var KeyFiles = []string{certName, keyName}

// SelfSigned returns the hub's own certificate, kept in dir and made there at
// the first call.
func SelfSigned(dir string, now time.Time) (tls.Certificate, error) {
	certFile, keyFile := filepath.Join(dir, certName), filepath.Join(dir, keyName)
	cert, err := tls.LoadX509KeyPair(certFile, keyFile)
	if err == nil || !errors.Is(err, os.ErrNotExist) {
		return cert, wrapped(err)
	}
	certPEM, keyPEM, err := newCertificate(now)
	if err != nil {
		return tls.Certificate{}, wrapped(err)
	}
	if err := os.WriteFile(keyFile, keyPEM, 0o600); err != nil {
		return tls.Certificate{}, wrapped(err)
	}
	if err := os.WriteFile(certFile, certPEM, 0o644); err != nil {
		return tls.Certificate{}, wrapped(err)
	}
	cert, err = tls.X509KeyPair(certPEM, keyPEM)
	return cert, wrapped(err)
}

func wrapped(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("access: certificate: %w", err)
}

func newCertificate(now time.Time) (certPEM, keyPEM []byte, err error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, nil, err
	}
	template := &x509.Certificate{ // without a number: it gets one by chance
		Subject:     pkix.Name{CommonName: "bellrow hub"},
		DNSNames:    []string{"localhost"},
		NotBefore:   now.Add(-24 * time.Hour), // laptops' clocks differ
		NotAfter:    now.Add(certificateFor),
		KeyUsage:    x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		return nil, nil, err
	}
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, nil, err
	}
	certPEM = pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	keyPEM = pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: keyDER})
	return certPEM, keyPEM, nil
}

// Fingerprint returns what nodes pin: the hex SHA-256 of the certificate, as
// proto.Link carries it.
func Fingerprint(c tls.Certificate) string {
	sum := sha256.Sum256(c.Certificate[0])
	return hex.EncodeToString(sum[:])
}

// TLSConfig serves HTTPS with c.
func TLSConfig(c tls.Certificate) *tls.Config {
	// WebSockets need HTTP/1.1.
	return &tls.Config{Certificates: []tls.Certificate{c}, MinVersion: tls.VersionTLS13, NextProtos: []string{"http/1.1"}}
}
