// Package handout gives players the program that their laptop lacks, when its
// packages lie beside the hub's own program: somebody in the room has no
// bellrow, and there is no internet.
package handout

import (
	_ "embed"
	"html/template"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"time"

	"bellrow/proto/page"
	"bellrow/proto/phrase"
)

//go:embed howto.html
var howTo []byte

//go:embed get.html
var getPage string

// Path is where the handler belongs on the hub's pages.
const Path = "/get/"

// Package is one that can be fetched.
type Package struct {
	Name   string `json:"name"`   // of the file, and its address below Path
	System string `json:"system"` // a key of proto/phrase; In says it
	MB     int64  `json:"mb"`     // rounded up
}

// Sums is the file of checksums that cmd/package writes beside its packages.
const Sums = "SHA256SUMS"

// kinds tell packages by their names, as cmd/package makes them, in the order
// in which people look for theirs. Nothing else in a folder is handed out.
var kinds = []struct {
	name   *regexp.Regexp
	system string
}{
	{regexp.MustCompile(`^bellrow_[\w.+-]+_windows_amd64\.zip$`), "get.for.windows"},
	{regexp.MustCompile(`^bellrow_[\w.+-]+_windows_arm64\.zip$`), "get.for.windows-arm"},
	{regexp.MustCompile(`^bellrow_[\w.+-]+_macos\.zip$`), "get.for.macos"},
	{regexp.MustCompile(`^bellrow_[\w.+~-]+_amd64\.deb$`), "get.for.debian"},
	{regexp.MustCompile(`^bellrow_[\w.+~-]+_arm64\.deb$`), "get.for.debian-arm"},
	{regexp.MustCompile(`^bellrow-[\w.+~-]+\.x86_64\.rpm$`), "get.for.fedora"},
	{regexp.MustCompile(`^bellrow-[\w.+~-]+\.aarch64\.rpm$`), "get.for.fedora-arm"},
	{regexp.MustCompile(`^bellrow_[\w.+-]+_linux_amd64\.tar\.gz$`), "get.for.linux"},
	{regexp.MustCompile(`^bellrow_[\w.+-]+_linux_arm64\.tar\.gz$`), "get.for.linux-arm"},
}

// Folders are where packages may lie: beside the program, or in a folder
// "packages" there.
func Folders(program string) []string {
	dir := filepath.Dir(program)
	return []string{filepath.Join(dir, "packages"), dir}
}

// Handout serves what lies in its folders. It is safe for concurrent use;
// folders are read at each request, so that packages can be put there while
// the hub runs.
type Handout struct{ folders []string }

// New hands out of folders.
func New(folders ...string) *Handout { return &Handout{folders} }

// Packages lists what can be fetched, in the order in which people look.
func (h *Handout) Packages() []Package {
	list := []Package{}
	for _, k := range kinds {
		for _, dir := range h.folders {
			if p, ok := offered(dir, k.name); ok {
				p.System = k.system
				list = append(list, p)
				break
			}
		}
	}
	return list
}

// In lists them in a tongue.
func (h *Handout) In(t phrase.Tongue) []Package {
	list := h.Packages()
	for i := range list {
		list[i].System = t.Say(list[i].System)
	}
	return list
}

// offered finds a package of a kind; of several versions the one that was made
// last.
func offered(dir string, kind *regexp.Regexp) (p Package, found bool) {
	files, _ := os.ReadDir(dir) // a folder that is not there holds nothing
	var made time.Time
	for _, f := range files {
		info, err := f.Info()
		if err != nil || !info.Mode().IsRegular() || !kind.MatchString(f.Name()) || found && !info.ModTime().After(made) {
			continue
		}
		p, made, found = Package{Name: f.Name(), MB: (info.Size() + 1<<20 - 1) >> 20}, info.ModTime(), true
	}
	return p, found
}

// Handler answers everything below Path: a page, the list as JSON (list.json),
// how to start it (how.html), the checksums and the packages.
func (h *Handout) Handler() http.Handler {
	mux := http.NewServeMux()
	list := func(r *http.Request) []Package { return h.In(phrase.Get.Asked(r.Header)) }
	page1 := template.Must(template.New("get").Funcs(page.Words(phrase.Tongue{})).Parse(getPage))
	mux.HandleFunc("GET "+Path+"{$}", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.Header().Set("Vary", "Accept-Language")
		t := template.Must(page1.Clone()).Funcs(page.Words(phrase.Get.Asked(r.Header)))
		_ = t.Execute(w, list(r)) // a page that went away cannot be told anything more
	})
	mux.HandleFunc("GET "+Path+"list.json", func(w http.ResponseWriter, r *http.Request) { page.JSON(w, http.StatusOK, list(r)) })
	mux.HandleFunc("GET "+Path+"how.html", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write(howTo)
	})
	mux.HandleFunc("GET "+Path+"{name}", h.file)
	return page.Harden(mux)
}

// file sends a package that is on the list, or the checksums.
func (h *Handout) file(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	if name != Sums && !slices.ContainsFunc(h.Packages(), func(p Package) bool { return p.Name == name }) {
		http.NotFound(w, r)
		return
	}
	for _, dir := range h.folders {
		root, err := os.OpenRoot(dir)
		if err != nil {
			continue
		}
		f, err := root.Open(name)
		root.Close()
		if err != nil {
			continue
		}
		defer f.Close()
		if info, err := f.Stat(); err == nil && info.Mode()&fs.ModeType == 0 {
			if name != Sums {
				w.Header().Set("Content-Type", "application/octet-stream")
				w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
			}
			http.ServeContent(w, r, name, info.ModTime(), f)
			return
		}
	}
	http.NotFound(w, r)
}
