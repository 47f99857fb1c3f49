package hub

// reasonWords says in plain words why a reading does not count.
func reasonWords(code string) string {
	if w, ok := reasons[code]; ok {
		return w
	}
	return "The pitch did not come to rest."
}

var reasons = map[string]string{
	"moving":     "The pitch was still moving.",
	"vibrato":    "There was vibrato: a straight tone, please.",
	"short":      "The note was too short.",
	"soft":       "The note was too quiet for this room.",
	"two-sounds": "Two sounds were heard at once.",
	"noise":      "No clear note was heard.",
	"wide":       "The pitch rested, but too roughly to be read.",
	"clipping":   "The microphone was overloaded: turn it down or sit further away.",
	"gap":        "The sound was interrupted on its way in.",
}
