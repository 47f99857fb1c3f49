package access

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

func TestSelfSigned(t *testing.T) {
	dir := t.TempDir()
	first, err := SelfSigned(dir, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	again, err := SelfSigned(dir, time.Now())
	if err != nil || Fingerprint(again) != Fingerprint(first) || len(Fingerprint(first)) != 64 {
		t.Errorf("%s, then %s, %v", Fingerprint(first), Fingerprint(again), err)
	}
	if info, err := os.Stat(filepath.Join(dir, "hub-key.pem")); err != nil || info.Mode().Perm()&0o077 != 0 {
		t.Errorf("key file: %v, %v", info.Mode(), err)
	}
	if err := os.WriteFile(filepath.Join(dir, "hub-cert.pem"), []byte("torn"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := SelfSigned(dir, time.Now()); err == nil {
		t.Error("a torn certificate was replaced in silence; nodes have pinned it")
	}
}
