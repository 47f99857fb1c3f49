package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"

	"github.com/jackmordaunt/icns/v3"
)

// macos makes a zip with an app for both processors.
func (b *builder) macos(ctx context.Context) (string, error) {
	var slices [][]byte
	for _, arch := range []string{"amd64", "arm64"} {
		path, err := b.program(ctx, "darwin", arch)
		if err != nil {
			return "", err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return "", err
		}
		slices = append(slices, data)
	}
	img, err := b.icon(1024)
	if err != nil {
		return "", err
	}
	var icon bytes.Buffer
	if err := icns.Encode(&icon, img); err != nil {
		return "", err
	}
	licences, err := b.licences(ctx, "darwin", "arm64")
	if err != nil {
		return "", err
	}
	papers, err := b.papers(licences)
	if err != nil {
		return "", err
	}
	const app = "bellrow.app/Contents/"
	name := fmt.Sprintf("bellrow_%s_macos.zip", b.plain())
	return name, writeZip(filepath.Join(b.out, name), b.at, append([]entry{
		{app + "Info.plist", []byte(fmt.Sprintf(plist, versionText(b.plain()))), 0o644},
		{app + "MacOS/bellrow", universal(slices[0], slices[1]), 0o755},
		{app + "Resources/bellrow.icns", icon.Bytes(), 0o644},
	}, papers...))
}

// versionText is the release alone: macOS takes three numbers (Apple,
// CFBundleShortVersionString).
func versionText(v string) string {
	n := versionNumbers(v)
	return fmt.Sprintf("%d.%d.%d", n[0], n[1], n[2])
}

// plist describes the app (Apple, Information Property List). It has no window
// of its own, so it stays out of the Dock.
const plist = `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE plist PUBLIC "-//Apple//DTD PLIST 1.0//EN" "http://www.apple.com/DTDs/PropertyList-1.0.dtd">
<plist version="1.0">
<dict>
  <key>CFBundleName</key><string>bellrow</string>
  <key>CFBundleDisplayName</key><string>bellrow</string>
  <key>CFBundleIdentifier</key><string>local.bellrow</string>
  <key>CFBundleExecutable</key><string>bellrow</string>
  <key>CFBundleIconFile</key><string>bellrow</string>
  <key>CFBundlePackageType</key><string>APPL</string>
  <key>CFBundleShortVersionString</key><string>%[1]s</string>
  <key>CFBundleVersion</key><string>%[1]s</string>
  <key>LSMinimumSystemVersion</key><string>12.0</string>
  <key>LSUIElement</key><true/>
  <key>NSLocalNetworkUsageDescription</key><string>bellrow finds the leader's laptop on the network of your rehearsal room.</string>
  <key>NSBonjourServices</key><array><string>_bellrow._tcp</string></array>
</dict>
</plist>
`

// universal puts the programs of both processors into one file (Apple,
// <mach-o/fat.h>): a header, then each aligned to a page of its processor.
func universal(amd64, arm64 []byte) []byte {
	const (
		magic   = 0xcafebabe
		cpuX86  = 0x01000007
		cpuARM  = 0x0100000c
		x86All  = 3
		armAll  = 0
		align   = 14 // a power of two: 16 kB, the pages of Apple's own processors
		aligned = 1 << align
	)
	out := binary.BigEndian.AppendUint32(nil, magic)
	out = binary.BigEndian.AppendUint32(out, 2)
	at := aligned
	for _, s := range []struct {
		cpu, sub uint32
		size     int
	}{{cpuX86, x86All, len(amd64)}, {cpuARM, armAll, len(arm64)}} {
		for _, v := range []uint32{s.cpu, s.sub, uint32(at), uint32(s.size), align} {
			out = binary.BigEndian.AppendUint32(out, v)
		}
		at += (s.size + aligned - 1) / aligned * aligned
	}
	for _, data := range [][]byte{amd64, arm64} {
		out = append(out, make([]byte, -len(out)&(aligned-1))...)
		out = append(out, data...)
	}
	return out
}
