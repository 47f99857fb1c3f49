package phrase

var german = texts{}
