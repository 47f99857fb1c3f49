package intonation

import (
	"fmt"
	"maps"
	"slices"

	"bellrow/proto/pitch"
)

// Tuning says how the tones of a chord stand to its root.
type Tuning string

// Tunings.
const (
	Just     Tuning = "just"     // ratios over the sounding root
	Equal    Tuning = "equal"    // equal temperament, free to move as one
	Keyboard Tuning = "keyboard" // equal temperament at the reference: something in the room cannot move
)

// DefaultTuning is Keyboard where a fixed pitch plays along, else Just.
func DefaultTuning(fixedPitch bool) Tuning {
	if fixedPitch {
		return Keyboard
	}
	return Just
}

// Anchor says what the chord is hung from.
type Anchor string

// Anchors.
const (
	AnchorBass      Anchor = "bass"      // the lowest tone as it sounds is right
	AnchorReference Anchor = "reference" // the tempered root at the reference is right
	AnchorConsensus Anchor = "consensus" // the tones that agree stay, so that the fewest move
)

// Reading is what a judgement needs of one settled reading.
type Reading struct {
	Hz    pitch.Hertz
	CI95  pitch.Cents // half width of the 95 % interval
	Level pitch.Level // as heard by that chair's own microphone
}

// Target is where one chair's tone belongs.
type Target struct {
	Note pitch.Note // the called sounding note
	Hz   pitch.Hertz
	// Tone is the note's place in the chord; InChord is false for a note
	// that is no tone of the chord, which is left tempered.
	Tone    Tone
	InChord bool
}

// Aim is where a whole chord belongs.
type Aim struct {
	Targets map[Chair]Target
	// Shift is how far the anchor lies from the reference: the whole chord
	// is allowed to stand there.
	Shift pitch.Cents
	// Anchor is the anchor used, and Code why it is not the one asked for,
	// Why the same in a sentence; empty when it is.
	Anchor Anchor
	Code   AimCode
	Why    string
}

// AimCode says why a chord hangs from the reference.
type AimCode string

// The codes.
const (
	AimKeyboard AimCode = "keyboard" // something in the room cannot move
	AimNoBass   AimCode = "no-bass"  // the bass has not been heard
	AimTooFew   AimCode = "too-few"  // too few have been heard to agree
)

// Hertz returns the target frequencies alone.
func (a Aim) Hertz() map[Chair]pitch.Hertz {
	hz := make(map[Chair]pitch.Hertz, len(a.Targets))
	for chair, t := range a.Targets {
		hz[chair] = t.Hz
	}
	return hz
}

// ParseTuning and ParseAnchor read the words of commands; empty means Just
// and AnchorConsensus.
func ParseTuning(s string) (Tuning, error) {
	switch t := Tuning(s); t {
	case "":
		return Just, nil
	case Just, Equal, Keyboard:
		return t, nil
	}
	return "", fmt.Errorf("tuning %q, need just, equal or keyboard", s)
}

// ParseAnchor: see ParseTuning.
func ParseAnchor(s string) (Anchor, error) {
	switch a := Anchor(s); a {
	case "":
		return AnchorConsensus, nil
	case AnchorBass, AnchorReference, AnchorConsensus:
		return a, nil
	}
	return "", fmt.Errorf("anchor %q, need bass, reference or consensus", s)
}

// Targets says where every chair's tone belongs; an empty tuning means Just, an
// empty anchor AnchorConsensus. tones holds the sounding
// note of each chair; readings what was heard so far, of any of them. The
// just ratios stand over the root of the chord wherever it lies. An anchor
// that readings cannot give yet falls back to the reference, with the reason.
func Targets(chord Chord, tones map[Chair]pitch.Note, tuning Tuning, anchor Anchor, readings map[Chair]Reading, ref pitch.Reference) Aim {
	aim := Aim{Targets: make(map[Chair]Target, len(tones))}
	for chair, note := range tones {
		aim.Targets[chair] = resting(chord, note, tuning, ref)
	}
	aim.Shift, aim.Anchor, aim.Code = anchorShift(aim.Targets, tuning, anchor, readings)
	aim.Why = aim.Code.words()
	for chair, t := range aim.Targets {
		t.Hz = t.Hz.Shift(aim.Shift)
		aim.Targets[chair] = t
	}
	return aim
}

// resting is the target with the root at the reference.
func resting(chord Chord, note pitch.Note, tuning Tuning, ref pitch.Reference) Target {
	t := Target{Note: note, Hz: ref.Frequency(note)}
	t.Tone, t.InChord = chord.Tone(note)
	if t.InChord && (tuning == Just || tuning == "") {
		t.Hz = t.Hz.Shift(t.Tone.Offset())
	}
	return t
}

func anchorShift(targets map[Chair]Target, tuning Tuning, anchor Anchor, readings map[Chair]Reading) (pitch.Cents, Anchor, AimCode) {
	if tuning == Keyboard {
		if anchor == AnchorReference {
			return 0, AnchorReference, ""
		}
		return 0, AnchorReference, AimKeyboard
	}
	switch anchor {
	case AnchorBass:
		shift, ok := bassShift(targets, readings)
		if !ok {
			return 0, AnchorReference, AimNoBass
		}
		return shift, AnchorBass, ""
	case AnchorConsensus, "":
		shift, ok := consensusShift(targets, readings)
		if !ok {
			return 0, AnchorReference, AimTooFew
		}
		return shift, AnchorConsensus, ""
	}
	return 0, AnchorReference, ""
}

// bassShift is the offset of the lowest called tone, or the mean of all who
// share it.
func bassShift(targets map[Chair]Target, readings map[Chair]Reading) (pitch.Cents, bool) {
	lowest, found := pitch.Note(0), false
	for _, t := range targets {
		if !found || t.Note < lowest {
			lowest, found = t.Note, true
		}
	}
	var shared []Offset
	for _, chair := range sorted(targets) {
		t := targets[chair]
		if r, ok := readings[chair]; ok && t.Note == lowest && r.Hz.Valid() {
			shared = append(shared, Offset{pitch.Between(t.Hz, r.Hz), r.CI95})
		}
	}
	return locate(shared).Offset, len(shared) > 0
}

// sorted lists the chairs of a map in order, so that sums come out the same
// each time.
func sorted[V any](m map[Chair]V) []Chair { return slices.Sorted(maps.Keys(m)) }

// minConsensus is the fewest readings that can agree on anything.
const minConsensus = 2
