// Package page is what the hub's pages and the player's page have in common:
// how files are served, the headers that keep pages to themselves, and the
// look (typeface, paper and stage themes, the drawing of a slide). It imports
// the standard library only; the socket that feeds a page is in proto/page/feed.
package page

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"io/fs"
	"net/http"
	"os"
	"path"
	"sync"
	"time"
)

//go:embed files
var shared embed.FS

// Files serves files with strong ETags: a site's own first, then the shared
// ones. The zero value has only the shared ones. It is safe for concurrent
// use. Files are small; each request reads and hashes one, so that files
// under development need no restart.
type Files struct {
	layers []fs.FS
	pages  sync.Map // of ServePage, parsed, by name
}

// Open returns the files of a site. own holds them under the folder "assets";
// dir, when not empty, is a folder on disk to use in place of own.
func Open(own fs.FS, dir string) *Files {
	if dir != "" {
		return &Files{layers: []fs.FS{os.DirFS(dir), under(shared, "files")}}
	}
	return &Files{layers: []fs.FS{under(own, "assets"), under(shared, "files")}}
}

func under(f fs.FS, dir string) fs.FS {
	sub, err := fs.Sub(f, dir)
	if err != nil {
		panic("page: embedded files: " + err.Error()) // fixed at build time
	}
	return sub
}

// Serve writes the named file, or reports false when there is none.
func (f *Files) Serve(w http.ResponseWriter, r *http.Request, name string) bool {
	data, ok := f.read(name)
	if !ok {
		return false
	}
	serve(w, r, name, data)
	return true
}

// serve writes what a file of a name holds.
func serve(w http.ResponseWriter, r *http.Request, name string, data []byte) {
	sum := sha256.Sum256(data)
	h := w.Header()
	h.Set("ETag", `"`+hex.EncodeToString(sum[:12])+`"`)
	h.Set("Cache-Control", "no-cache") // ask again each time; the ETag makes it cheap
	if t := types[path.Ext(name)]; t != "" {
		h.Set("Content-Type", t)
	}
	http.ServeContent(w, r, name, time.Time{}, bytes.NewReader(data))
}

func (f *Files) read(name string) ([]byte, bool) {
	for _, layer := range f.layers {
		if data, err := fs.ReadFile(layer, name); err == nil {
			return data, true
		}
	}
	return nil, false
}

// types are stated here because the system's table of types may be wrong or
// missing, and a module with the wrong type does not run.
var types = map[string]string{
	".html":  "text/html; charset=utf-8",
	".css":   "text/css; charset=utf-8",
	".js":    "text/javascript; charset=utf-8",
	".svg":   "image/svg+xml",
	".woff2": "font/woff2",
	".txt":   "text/plain; charset=utf-8",
}

// Policy is the content security policy of every page: nothing from anywhere
// but its own server, no inline script or style, no framing.
const Policy = "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'"

// Harden sets the headers that every answer carries.
func Harden(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", Policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		next.ServeHTTP(w, r)
	})
}
