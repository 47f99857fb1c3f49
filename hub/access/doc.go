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
// Secrets are compared in constant time. Over plain HTTP everybody on the
// network can read them; TLS with a pinned key (SelfSigned) prevents that.
package access
