package pitch

// Key is a key by its signature and mode. The zero value is C major.
type Key struct {
	Fifths int // sharps of the signature, flats negative
	Minor  bool
}

// Tonic returns the name of the key's first degree.
func (k Key) Tonic() Name {
	if k.Minor {
		return NameAt(k.Fifths + 3)
	}
	return NameAt(k.Fifths)
}

// KeyOf returns the key on a tonic.
func KeyOf(tonic Name, minor bool) Key {
	if minor {
		return Key{tonic.Fifths() - 3, true}
	}
	return Key{tonic.Fifths(), false}
}

// Spell names a note as the key does: its seven degrees, and the altered ones
// as the harmonic chromatic scale has them (lowered second, third, sixth and
// seventh, raised fourth; in minor also the raised third, sixth and seventh of
// the melodic scale). These are the twelve places on the line of fifths from
// five below the tonic on (harmonic chromatic scale: Associated Board,
// Rudiments and Theory of Music, from memory).
func (k Key) Spell(n Note) Spelled { return spellFrom(k.Tonic().Fifths()-5, n) }

// spellFrom names a note by the twelve names from a place on the line of
// fifths on: there is one for each class.
func spellFrom(fifths int, n Note) Spelled {
	for f := fifths; f < fifths+12; f++ {
		if s, ok := NameAt(f).In(n); ok {
			return s
		}
	}
	panic("pitch: twelve fifths name every class")
}

// Usual names a note where no key and no chord says how: with flats from G
// flat on, as brass parts have them (common practice, no source).
func Usual(n Note) Spelled { return spellFrom(gFlat, n) }

// Written names the note of a part that sounds as s on an instrument that
// adds transposition semitones to what is written (-2 for a B flat trumpet):
// the same interval for every note, so a third stays a third. A name that no
// player would be given (more than one accidental, or a white key under
// another's name) is replaced by the plain one.
func Written(s Spelled, transposition int) Spelled {
	w := s.Up(UsualInterval(-transposition))
	if f := w.Fifths(); f < gFlat || f > aSharp {
		return plain(w)
	}
	return w
}

// Sounding is the inverse of Written for the notes of a part.
func Sounding(written Spelled, transposition int) Spelled {
	return written.Up(UsualInterval(transposition))
}

// The furthest names of black keys with one accidental on the line of fifths.
const (
	gFlat  = -6
	aSharp = 10
)

// plain is the name of the same note that lies nearest the middle of the line
// of fifths.
func plain(s Spelled) Spelled {
	best := s
	for _, f := range []int{s.Fifths() - 12, s.Fifths() + 12, s.Fifths() - 24, s.Fifths() + 24} {
		if t, ok := NameAt(f).In(s.Note()); ok && abs(f) < abs(best.Fifths()) {
			best = t
		}
	}
	return best
}

func abs(x int) int { return max(x, -x) }
