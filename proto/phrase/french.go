package phrase

var french = texts{}
