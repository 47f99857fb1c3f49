package proto

// Codes of Error messages. Those marked fatal end the connection, and a node
// does not come back with the same words before its player has acted.
const (
	CodeWrongCode  = "wrong-code"  // fatal: the join code is not this hub's
	CodeWrongToken = "wrong-token" // the hub does not know the token; the node forgets it and uses its join code
	CodeTooMany    = "too-many"    // too many wrong codes from this address lately
	CodeVersion    = "version"     // fatal: no protocol version in common
	CodeInstrument = "instrument"  // fatal: the hub's catalogue lacks the instrument
	CodeReplaced   = "replaced"    // fatal: another laptop took the chair, or the leader took it away
	CodeSection    = "section"     // the leader opened another section; the node comes back to that one by itself
	CodeBadMessage = "bad-message" // a message was not understood and left out
	CodeWaits      = "waits"       // the leader has to let this laptop in; it comes back by itself
	CodeFull       = "full"        // the section has all the chairs that it can have
	CodeTrouble    = "hub-trouble" // the hub cannot work just now
)

// WebSocket close codes of the hub beyond those of RFC 6455, section 7.4:
// 4000 to 4999 are for private use.
const (
	CloseHello    = 4000 // no valid hello in time
	CloseRefused  = 4001 // a fatal Error went before
	CloseReplaced = 4002 // this node connected again, or another took its chair
	CloseBad      = 4003 // too many bad messages
)
