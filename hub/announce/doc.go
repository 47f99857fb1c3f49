// Package announce makes the hub known on the local network by multicast DNS
// service discovery (RFC 6762, RFC 6763).
//
// It wraps hashicorp/mdns v1.0.7 and adds what that lacks: presence on every
// interface; a zone that looks the addresses up for each question; names
// compared without case and escaped on the wire; an announcement at the start, at
// each change of address, and a goodbye at the end; and a distinct instance name
// when another hub already has it. Two hubs that start within the same half
// second can still take one name; nodes tell them apart by hub id.
//
// On Linux each server hears the questions of all interfaces, so every answer
// carries the addresses of all of them.
package announce
