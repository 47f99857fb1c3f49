// Package access decides who may do what at a hub on an untrusted local
// network: which Host and Origin a request may carry, who may join as a node,
// and who is the leader.
//
// Three secrets, each for one thing:
//
//   - the join code, short, shown on the leader's screen, lets a node enrol.
//     Wrong codes are rate-limited by address.
//   - a token, one for each node, made at enrolment. The hub keeps only its
//     SHA-256: tokens are 32 random bytes, so that no slow hash is needed.
//   - the leader key, in the fragment of the leader's link. The page posts it
//     once and gets an HttpOnly, SameSite=Strict cookie for it.
//
// The join code, eight letters and digits (853 thousand million), is never sent by a
// present node: it and the hub prove to one another that they know it (proto/pake),
// and the token comes out of the same proof. A hub's key that a node has once seen
// over TLS is that hub's for good: another key, or none, is refused until the
// player opens a link from the leader's screen that names the new one.
//
// The leader key is another at each start, stands in no file and in the part of the
// link that browsers do not send; of the cookie that it is exchanged for the hub keeps
// the hash. Pages of other web sites, including those that rebind their name to the
// hub's address, can neither read from the hub nor write to it.
//
// Whoever has shown neither token nor leader key shares 512 connections, 64 of them
// screens; who comes gets the place of the stranger that has been idle longest, from
// the address that holds the most. Names lose what cannot be seen (proto/name), and one
// that only looks like another waits for the leader.
//
// Secrets are compared in constant time. Over plain HTTP everybody on the
// network can read them; TLS with a pinned key (SelfSigned) prevents that.
package access
