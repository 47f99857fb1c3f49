package node

import (
	"math"

	"bellrow/node/listen"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// bendHold is how long a bent note may last, in seconds: its reading comes when it
// is over, not in the middle.
const bendHold = 10

// bend puts a listener in the place of the present one between two notes: one
// that follows a bent note to its end, or the usual one again.
func (e *ear) bend(on bool, sample int64) {
	c := e.node.config.Listen
	c.Rate = e.info.Rate
	if on {
		c.KeepPath, c.HoldFor = true, bendHold
	}
	l, err := listen.New(c)
	if err != nil {
		e.node.log.Warn("no pitch path", "err", err)
		return
	}
	l.Gap(sample) // count as the source does
	e.listener, e.bending = l, on
}

// pathStep is the least time between two points of a path on the wire, in
// seconds: a bend moves slowly.
const pathStep = 0.025

// wirePath is the pitch path of a reading as it is sent, nil for none.
func wirePath(r *listen.Reading, rate float64) *proto.Path {
	if len(r.Path) < 2 || !r.Hz.Valid() {
		return nil
	}
	hop := float64(r.Path[1].Sample-r.Path[0].Sample) / rate
	by := max(1, int(math.Ceil(pathStep/hop)), int(math.Ceil(float64(len(r.Path))/proto.MaxPath)))
	p := &proto.Path{Hz: r.Hz, Step: hop * float64(by)}
	for i := 0; i < len(r.Path); i += by {
		x := float64(proto.NoPitch)
		if hz := r.Path[i].Hz; hz.Valid() {
			x = math.Round(10 * float64(pitch.Between(r.Hz, hz)))
		}
		if !(math.Abs(x) < proto.NoPitch) {
			x = proto.NoPitch
		}
		p.Tenths = append(p.Tenths, int(x))
	}
	return p
}
