package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellrow/node/capture"
	"bellrow/node/uplink"
	"bellrow/testdata/smalldisk"
)

// TestKeepSound: where a refused note was written is said, or in a sentence
// why it was not.
func TestKeepSound(t *testing.T) {
	f := &front{config: &nodeConfig{sounds: filepath.Join(t.TempDir(), "sounds")}}
	if _, err := f.keepSound(); err == nil || !strings.Contains(err.Error(), "not in memory") {
		t.Errorf("nobody sits here: %v", err)
	}
	d, err := newDesk(deskConfig{
		uplink: uplink.Config{Chair: "Horn 1", Instrument: "horn_f_bb_double", StateDir: t.TempDir(), NoMulticast: true}, keep: true,
		open: func(context.Context) (capture.Source, error) { return capture.Slice(held(233, 48000, 2), 48000), nil },
	})
	if err != nil {
		t.Fatal(err)
	}
	f.set(d)
	// No hub has asked for anything yet.
	if err := d.node.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	if _, err := f.keepSound(); err == nil || !strings.Contains(err.Error(), "not in memory") {
		t.Errorf("nothing was asked for: %v", err)
	}
	if _, err := os.Stat(f.config.sounds); err == nil {
		t.Error("a folder was made for nothing")
	}
	disk := smalldisk.New(t, 64)
	disk.Fill(t)
	for dir, says := range map[string]string{disk.Dir: "is full", "/proc/bellrow": "--sounds FOLDER"} {
		f.config.sounds = dir
		if err := keptError(dir, os.WriteFile(filepath.Join(dir, "x"), make([]byte, 100), 0o600)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v, need %q", dir, err, says)
		}
	}
}
