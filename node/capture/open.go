package capture

import (
	"errors"
	"io"
	"os"
)

// Open opens a sound file by what is in it, WAV or FLAC, whatever it is
// called. The error is one sentence that names the file.
func Open(path string) (Source, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, openError(path, err)
	}
	var magic [4]byte
	_, err = io.ReadFull(f, magic[:])
	f.Close()
	var pe *os.PathError
	switch {
	case errors.As(err, &pe):
		return nil, openError(path, err)
	case string(magic[:]) == "fLaC":
		return opened(OpenFLAC(path))
	default:
		return opened(OpenWAV(path))
	}
}

// opened keeps a nil *T from becoming a Source that is not nil.
func opened[S Source](s S, err error) (Source, error) {
	if err != nil {
		return nil, err
	}
	return s, nil
}
