package main

import (
	"archive/tar"
	"archive/zip"
	"compress/gzip"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// entry is one file of an archive.
type entry struct {
	name string
	data []byte
	mode fs.FileMode
}

// writeZip writes the entries in their order, all with one time.
func writeZip(path string, at time.Time, entries []entry) (err error) {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer func() { err = closed(f, err) }()
	z := zip.NewWriter(f)
	for _, e := range entries {
		h := &zip.FileHeader{Name: e.name, Method: zip.Deflate, Modified: at}
		h.SetMode(e.mode)
		w, err := z.CreateHeader(h)
		if err != nil {
			return err
		}
		if _, err := w.Write(e.data); err != nil {
			return err
		}
	}
	return z.Close()
}

// writeTar writes the entries in their order, owned by nobody in particular.
func writeTar(path string, at time.Time, entries []entry) (err error) {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer func() { err = closed(f, err) }()
	z := gzip.NewWriter(f)
	t := tar.NewWriter(z)
	for _, e := range entries {
		h := &tar.Header{Name: e.name, Mode: int64(e.mode), Size: int64(len(e.data)), ModTime: at, Format: tar.FormatPAX}
		if err := t.WriteHeader(h); err != nil {
			return err
		}
		if _, err := t.Write(e.data); err != nil {
			return err
		}
	}
	if err := t.Close(); err != nil {
		return err
	}
	return z.Close()
}

func closed(f *os.File, err error) error {
	if closing := f.Close(); err == nil {
		err = closing
	}
	return err
}

// read makes an entry of a file of the project.
func (b *builder) read(name, path string, mode fs.FileMode) (entry, error) {
	if !filepath.IsAbs(path) {
		path = filepath.Join(b.root, path)
	}
	data, err := os.ReadFile(path)
	return entry{name, data, mode}, err
}

// papers are what every package carries beside the program: how to start it
// and the licences of what is in it.
func (b *builder) papers(licences []byte) ([]entry, error) {
	howTo, err := b.read("How to start it.html", howToStart, 0o644)
	return []entry{howTo, {"Licences.txt", licences, 0o644}}, err
}

// howToStart is the page for whoever unpacks one; the hub shows it, too.
const howToStart = "hub/handout/howto.html"
