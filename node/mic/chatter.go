package mic

import "strings"

// chatterStarts are the beginnings of the lines that PortAudio and the sound
// libraries below it print to standard error while they look for devices or
// lose one (PortAudio 19.6 with ALSA 1.2 prints up to a hundred of them at
// each start). Everything else on standard error is passed on.
var chatterStarts = []string{
	"ALSA lib ", "Expression '", "Cannot connect to server", "jack server is not running",
	"JackShmReadWritePtr",
}

// isChatter tells whether a line is theirs. They print empty lines too; the
// program itself prints none there.
func isChatter(line string) bool {
	line = strings.TrimSpace(line)
	if line == "" {
		return true
	}
	for _, s := range chatterStarts {
		if strings.HasPrefix(line, s) {
			return true
		}
	}
	return false
}
