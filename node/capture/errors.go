package capture

import "errors"

// ErrClosed is what Read returns once the source has been closed.
var ErrClosed = errors.New("capture: source is closed")

// ErrNotAudio marks a file that is neither WAV nor FLAC.
var ErrNotAudio = errors.New("not a WAV or FLAC file")

// ErrEmpty marks a file that holds no samples at all.
var ErrEmpty = errors.New("holds no sound")

// ErrTruncated marks a file that ends before its header says it should. The
// samples that are there have been delivered before Read returns it.
var ErrTruncated = errors.New("is cut short")

// ErrBadSample marks a file with a sample that is not a finite number.
var ErrBadSample = errors.New("holds a sample that is not a number")

// ErrLost is what Read returns when a live source stopped delivering samples.
var ErrLost = errors.New("delivers no sound")
