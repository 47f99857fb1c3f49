package check

import (
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// settleFrames are left out at both ends of a held note: attack and release
// are the player's.
const settleFrames = 6 // 0.3 s

// aroundFrames is how much of the quiet room is compared before and after a
// note.
const aroundFrames = 10 // 0.5 s

// processingLine suspects noise suppression and automatic gain, which are
// made for speech: they take a held note for noise, or turn the gain about it.
func (s *Sound) processingLine(floor pitch.Level, tone span) Line {
	const name = "processing"
	if tone.seconds() < toneSeconds {
		return skipped(name, "needs a note held for two seconds")
	}
	if fell := s.fell(tone); fell > fades {
		return told(name, "check.processing.faded", whole(fell))
	}
	if s.hasZeros(tone) {
		return told(name, "check.processing.silence")
	}
	if rose := s.rose(tone, floor); rose > swells {
		return told(name, "check.processing.swelled", whole(rose))
	}
	if shift := s.shift(tone); math.Abs(shift) > shifts {
		return told(name, "check.processing.shifted", whole(math.Abs(shift)))
	}
	return ok(name, "a held note stays as it is")
}

// fell is how many dB a held note lost from its first third to its end.
func (s *Sound) fell(tone span) float64 {
	levels := s.levels[tone.from+settleFrames/2 : tone.to-settleFrames/2]
	third, end := len(levels)/3, min(settleFrames, len(levels)/3)
	return float64(median(levels[:third]) - median(levels[len(levels)-end:]))
}

// shift is how many dB louder the room is after the note than before it.
func (s *Sound) shift(tone span) float64 {
	before, after := s.before(tone), s.after(tone)
	if len(before) < aroundFrames || len(after) < aroundFrames {
		return 0
	}
	return float64(median(after) - median(before))
}

// hasZeros tells whether a frame near the note is emptier than any room.
func (s *Sound) hasZeros(tone span) bool {
	around := slices.Concat(s.before(tone), s.after(tone))
	return len(around) > 0 && slices.Min(around) <= gated
}

// rose is how many dB the quiet room swelled in the seconds after a note, as
// it does when a gain that was turned down comes back.
func (s *Sound) rose(tone span, floor pitch.Level) float64 {
	after := s.after(tone)
	if len(after) < 3*aroundFrames {
		return 0
	}
	early, late := median(after[:aroundFrames]), median(after[len(after)-aroundFrames:])
	if late > floor+toneAbove {
		return 0 // somebody plays again
	}
	return float64(late - early)
}

// before and after are the levels around a note, without its ramps.
func (s *Sound) before(tone span) []pitch.Level {
	return s.levels[min(tone.from, settleFrames):max(min(tone.from, settleFrames), tone.from-settleFrames)]
}

func (s *Sound) after(tone span) []pitch.Level {
	return s.levels[min(len(s.levels), tone.to+settleFrames):]
}

func median(levels []pitch.Level) pitch.Level {
	sorted := slices.Sorted(slices.Values(levels))
	return sorted[len(sorted)/2]
}
