package main

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"syscall"

	"bellrow/cmd/bellrow/plain"
	"bellrow/node/capture"
)

// withFile hands over a file that was named, or standard input for -.
func withFile(e env, path string, use func(io.Reader) error) error {
	if path == "-" {
		return use(e.stdin)
	}
	if err := hasContent(path); err != nil {
		return err
	}
	f, err := os.Open(path)
	if err != nil {
		return fileError(path, err)
	}
	defer f.Close()
	return use(f)
}

// hasContent refuses what cannot be a file with something in it.
func hasContent(path string) error {
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return fileError(path, err)
	case info.IsDir():
		return say("name a file in it", "%s is a folder", path)
	case info.Mode().IsRegular() && info.Size() == 0:
		return say("it may not have been written to its end; make it again", "%s is an empty file", path)
	}
	return nil
}

// fileError says what to do about a file that cannot be opened.
func fileError(path string, err error) error {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return say("check the name and try again", "there is no file %q", path)
	case errors.Is(err, fs.ErrPermission):
		return say("ask whoever owns it, or copy it to a folder of your own", "you may not read %q", path)
	}
	if in, ok := errors.AsType[*fs.PathError](err); ok {
		err = in.Err
	}
	return say("check the name and try again", "%s cannot be read: %v", path, err)
}

// openSound opens a recording.
func openSound(path string) (capture.Source, error) {
	if err := hasContent(path); err != nil {
		return nil, err
	}
	src, err := capture.Open(path)
	return src, hintedFile(err)
}

// hintedFile adds what to do about a file that cannot be read, unless that is said.
func hintedFile(err error) error {
	if _, hinted := errors.AsType[*plain.Error](err); hinted {
		return err
	}
	for cause, hint := range map[error]string{
		capture.ErrNotAudio:  "save the recording as WAV or FLAC and try again",
		capture.ErrTruncated: "copy or record the file again",
		capture.ErrBadSample: "the program that wrote the file is at fault; export it again as 16 or 24 bit WAV",
	} {
		if errors.Is(err, cause) {
			return say(hint, "%w", err)
		}
	}
	return err
}

// Windows has numbers of its own for what a socket is refused (Microsoft,
// Windows Sockets Error Codes); no other system uses them.
const (
	windowsForbidden = syscall.Errno(10013) // WSAEACCES
	windowsInUse     = syscall.Errno(10048) // WSAEADDRINUSE
)

// inUse tells that somebody else listens at an address.
func inUse(err error) bool {
	return errors.Is(err, syscall.EADDRINUSE) || errors.Is(err, windowsInUse)
}

// forbidden tells that this user may not listen at an address.
func forbidden(err error) bool {
	return errors.Is(err, fs.ErrPermission) || errors.Is(err, windowsForbidden)
}
