// Package link is the hub's side of the connections to nodes: a WebSocket
// endpoint that lets nodes in, feeds what they say to the hub, and sends each
// the acknowledgements and the view of its chair.
//
// Each connection has one reader, which is the HTTP handler's goroutine, one
// writer, and one goroutine that waits for commits, so that a slow disk delays
// acknowledgements and nothing else. Nobody waits for a slow node: views are coalesced by the hub's
// feeds, and a node that takes nothing for a while loses its connection. A node
// that talks too fast is read more slowly, so that nothing it says is lost.
//
// The protocol is described in package proto.
package link
