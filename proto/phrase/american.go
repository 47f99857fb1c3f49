package phrase

var american = texts{}
