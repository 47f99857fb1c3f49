// Package capture defines where samples come from: the contract of a Source,
// the ring between a device callback and its one reader, and the sources that
// need no device (files). Microphones live in node/mic (native) and
// node/player (browser); simulated players in node/simulate.
//
// Time is a sample count at the source's own rate. Samples are mono, in
// [-1, 1], where 1 is full scale.
package capture

import "context"

// Info describes an open source. It does not change while the source is open.
type Info struct {
	// Rate is the true sample rate in Hz as the device or file states it.
	Rate float64
	// Name is what to show a player: device, file or simulated player.
	Name string
	// Live is true when samples arrive in real time and wait for nobody;
	// false when the source can be read as quickly as wanted.
	Live bool
}

// A Block is a run of consecutive samples.
type Block struct {
	// Samples is valid until the next Read. Its length is never 0 without an
	// error, and may differ from block to block.
	Samples []float64
	// First is the index of Samples[0] in the source's own count, which
	// includes lost samples: First grows by len(Samples) plus the next Lost.
	First int64
	// Lost is the number of samples known to be missing just before this block.
	Lost int64
}

// A Source delivers blocks until it ends.
//
// Read blocks until samples are there, ctx is done (ctx.Err), the source ends
// (io.EOF, sticky) or fails (any other error, sticky). A block and an error
// are never returned together. One goroutine reads. Close may be called from
// any goroutine, more than once; it makes a Read in flight return promptly.
// NaN and infinite samples never come out of a Source: it delivers 0 in their
// place, and a file source that meets them reports an error instead.
type Source interface {
	Info() Info
	Read(ctx context.Context) (Block, error)
	Close() error
}

// A Troubled source knows of a lasting problem with its device, as a stable
// code such as "processing-on"; empty when all is well.
type Troubled interface {
	Trouble() string
}
