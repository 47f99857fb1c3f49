// Package proto is what node and hub say to one another: JSON text messages
// over a WebSocket, the DNS-SD record by which a hub is found, join codes and
// join links, with versions and limits. It is the whole protocol: a node in
// another language needs nothing else.
//
// # Finding the hub
//
// A hub listens on TCP port 7440 (DefaultPort) unless told otherwise and
// announces the service _bellrow._tcp in the domain local. by multicast DNS on
// UDP port 5353 (RFC 6762, RFC 6763). Its TXT record holds v (protocol
// version), id (hub id), n (section name), tls=1 for a hub that speaks TLS only,
// and in a, a2, … all addresses of the hub, since an interface's answer may
// carry those of another network. Nothing in it is secret, and nothing in it is
// to be trusted: a node confirms the hub id from the welcome.
//
// Where multicast is filtered, players type host:port or use the join link
//
//	http://192.0.2.7:7440/join#code=K7M4QX&hub=hs6imjckwt5y
//
// (https and fp=, the hex SHA-256 of the certificate, for a hub with TLS).
// The secret part is in the fragment, which browsers do not send.
//
// # The connection
//
// A node opens a WebSocket (RFC 6455) at the path /ws/node, without
// subprotocol, extensions or compression. The Host header must be an address,
// localhost or one of the hub's own names, otherwise the answer is 421; an
// Origin header, if there is one, must be the hub's own, otherwise 403; 503
// means that there is no room, try again with a pause. Each message is one text
// frame or fragmented message of valid UTF-8: one JSON object with a field
// type, and its payload in the field of the same name. Lengths are at most
// MaxPlain bytes, MaxTrack for track, MaxView for view.
//
// The hub sends a WebSocket ping every 5 s and closes after 15 s without any
// answer; a node may conclude the same after 15 s without any frame. One
// connection speaks for a node: the last to say hello.
//
// # Node to hub
//
//   - hello, once, first, within 5 s: version, the node's stable id, the id of
//     this start (boot), the player's chair name, part and instrument, and
//     either prove (below) or, as older nodes do, the join code at the first
//     visit and the token afterwards.
//   - reading: one settled or unsettled reading, numbered seq = 1, 2, 3 … (MaxSeq
//     at most) within a boot, without gaps. A node keeps each until it is acknowledged. Where
//     stored in the welcome is less than what was acknowledged before, because
//     this is another hub, say, the node goes on under a new boot, from 1.
//     mute says what was in the bell; path is how the pitch of the note went,
//     where the view asked for it (path: a bend study).
//   - state: what the listener hears (quiet, sounding, resting) and the level;
//     never a pitch. Send it when it changes and once a second.
//   - setting: where the player says a slide stands, in mm out; also how a
//     player says that a move was made.
//   - track: partial tracks of the called note, while the last view asks for
//     them (tracks_hz).
//   - ping: clock exchange, in seconds on the node's clock, with the node's
//     present estimate of the offset and its own sample count.
//
// # Hub to node
//
//   - welcome, or error: the answer to hello. welcome holds the hub id, the
//     chair, at enrolment the token to keep, and stored: all readings of this
//     boot up to that number are committed. The node sends the rest again.
//   - ack: all readings of this boot up to stored are committed to the hub's
//     disk. Readings that come twice are stored once and acknowledged again.
//     While the hub's disk is full there is no ack; the connection stays.
//   - view: everything a player's page shows, whole, whenever it changes. Views
//     may be skipped for a slow node; the latest always comes.
//   - pong: the answer to ping, with the hub's clock.
//   - error: a stable code, a sentence, the next action. If it is fatal, the
//     connection ends and the node must not come back with the same words
//     before its player has acted. The codes are constants of this package.
//
// # Proof
//
// A hub that can prove that it knows the join code says so in its answer to
// the upgrade: the header Bellrow-Proof: cpace, beside Bellrow-Hub with its
// id. A node then sends no code and no token. It says prove in its hello, the hub
// answers with proof, the node checks that and answers with proof of its own,
// and then comes welcome. The exchange is that of package pake: secret is the
// join code in its normal form ("code"), or the hex SHA-256 of the token
// ("token"); channel is "bellrow 1 " and the hex SHA-256 of the certificate
// that the connection shows, or "plain"; what the node says about itself is its
// id, a space and its boot, and what the hub says is its id. After a
// welcome by code both sides derive the node's token; it is never sent. An
// exchange that the node does not finish counts as a wrong code.
//
// A node sends code or token openly only to a hub whose certificate it knew
// beforehand, or to one of an older version whose address its player has
// typed and confirmed, and never a token in plain that was made over TLS.
//
// Readings that were left over from an earlier start are delivered on a
// connection of their own, whose hello carries that start's boot.
//
// # Close codes
//
// Besides those of RFC 6455, section 7.4.1 (1001 the hub stops, 1002 framing,
// 1003 a binary message, 1007 no UTF-8, 1009 too large): 4000 no valid hello
// in time, 4001 refused, after an error that says why, 4002 the node connected
// again or another laptop took the chair, 4003 too many messages that were not
// understood. Whatever the reason, a node waits a random time from 0 to 0.5 s
// before it comes back, and after each further failure from 0 to twice as
// much, up to 15 s.
//
// # Pace
//
// A node may send 50 messages a second for long and 200 at once. Beyond that
// the hub reads more slowly; nothing is dropped.
//
// # Versions
//
// Unknown fields are ignored and unknown types are skipped, on both sides, so
// that fields and types can be added without a new version. Version grows only
// when old and new could misunderstand one another. hello carries the highest
// version a node speaks; the hub answers in the lower of the two, or with the
// error "version" if that is below what it still understands (MinVersion).
// Meanings, units and ranges of existing fields never change within a version;
// a field that becomes superfluous is still sent until the version grows.
//
// testdata/messages has an example of every message.
package proto
