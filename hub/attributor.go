package hub

import "context"

// Attributor answers whose sound is whose.
type Attributor interface {
	Attribute(ctx context.Context) error
}

type oneMicrophone struct{}

func (oneMicrophone) Attribute(context.Context) error { return nil }

type gathering struct{}

func (h *Hub) gatherFresh() { h.together = nil }

func (h *Hub) gather(s *seat, r *Reading) func() { return h.judge(s, r) }

func (h *Hub) room() {}
