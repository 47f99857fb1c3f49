package phrase

var spanish = texts{}
