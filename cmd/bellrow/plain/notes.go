package plain

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"bellrow/proto/pitch"
)

// Notes reads notes as they are typed at a command, and collects which of them
// another reader would take for another note. The zero value reads English names
// that nobody chose.
type Notes struct {
	Style pitch.Style
	// Chosen: the style was asked for. Where nobody chose, a B may be a German's.
	Chosen     bool
	doubts     []string
	octaveTold bool
}

// Parse reads a note.
func (n *Notes) Parse(s string) (pitch.Spelled, error) {
	p, err := n.Style.Parse(s)
	if err != nil {
		return pitch.Spelled{}, err
	}
	if p.Note.Name == bNatural && n.guessed() && strings.ContainsAny(s[:1], "bB") {
		p.Or = append(p.Or, pitch.Spelled{Name: bFlat, Octave: p.Note.Octave})
	}
	for _, or := range p.Or {
		if or.Octave != p.Note.Octave && (or.Name != p.Note.Name || or.Octave < lowest) {
			continue // nobody means that
		}
		if or.Name == p.Note.Name {
			if n.octaveTold {
				continue // one note shows how octaves are counted
			}
			n.octaveTold = true
		}
		n.doubt(s, natural(p.Note.Name)+strconv.Itoa(p.Note.Octave), natural(or.Name)+strconv.Itoa(or.Octave), ascii(n.Style.Note(or)))
	}
	return p.Note, nil
}

// Root collects what else the root of a chord could be; without another, what a
// German would have meant by a B.
func (n *Notes) Root(typed string, read pitch.Name, or ...pitch.Name) {
	if len(or) == 0 && read == bNatural && n.guessed() && strings.ContainsAny(strings.TrimSpace(typed)[:1], "bB") {
		or = []pitch.Name{bFlat}
	}
	for _, x := range or {
		write := ascii(n.Style.Naming.Name(x))
		if write == "B" {
			write = "H" // with German words an English B would be read as before
		}
		n.doubt(typed, "a chord on "+natural(read), natural(x), write)
	}
}

// lowest is the octave below which no octave is doubted: but for a contrabassoon's last
// two notes nothing in a band sounds there.
const lowest = 1

var bNatural, bFlat = pitch.Name{Letter: 'B'}, pitch.Name{Letter: 'B', Alter: -1}

func (n *Notes) guessed() bool { return !n.Chosen && n.Style.Naming == pitch.English }

// doubt collects that typed was read as one thing, and how the other is typed.
func (n *Notes) doubt(typed, read, other, write string) {
	said := fmt.Sprintf("%s is read as %s; for %s write %s", typed, read, other, write)
	if !slices.Contains(n.doubts, said) {
		n.doubts = append(n.doubts, said)
	}
}

// Doubts are sentences of what could be misread, each once.
func (n *Notes) Doubts() []string { return n.doubts }

// natural is the English name with every sign, the natural of a B too.
func natural(x pitch.Name) string {
	if x == bNatural {
		return "B♮"
	}
	return x.Display()
}

// ascii is a name as keyboards have it.
func ascii(name string) string { return strings.NewReplacer("♭", "b", "♯", "#").Replace(name) }
