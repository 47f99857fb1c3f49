package moves

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"
)

// differing is a hub with a belief of the trial's beside it, to which the same
// notes and moves happen: it prints where the two decide otherwise.
type differing struct {
	*led
	beside *believer
	w      io.Writer
}

func (d *differing) present(i int, here bool) {
	d.led.present(i, here)
	d.beside.present(i, here)
}

func (d *differing) next(at float64, playing []int) []int {
	would := d.beside.next(at, playing)
	group := d.led.next(at, playing)
	if len(playing) == 0 && !slices.Equal(group, would) {
		fmt.Fprintf(d.w, "%6.1f next: hub %v, belief %v\n", at, group, would)
	}
	return group
}

func (d *differing) over(at float64) bool {
	over, would := d.led.over(at), d.beside.over(at)
	if over != would {
		fmt.Fprintf(d.w, "%6.1f over: hub %t, belief %t (%.3f, %.3f outside)%s\n", at, over, would, d.led.doubts().outside, d.beside.doubts().outside, d.wanted(at))
	}
	return over
}

func (d *differing) hear(n note) answer {
	c, id := d.chairs[n.chair], int64(n.chair+1)
	a := d.led.hear(n)
	d.beside.take(n)
	would := 0.0
	if n.refused == "" {
		would = d.beside.b.Best(id)
	}
	if st, _ := d.beside.b.Standing(id); math.Abs(a.mm-would) > 1e-6 {
		code := d.led.made(n.chair)
		fmt.Fprintf(d.w, "%6.1f chair %d move: hub %g (%s), belief %g; note %d at %.1f ± %.1f (%s), stands %.1f ± %.1f, truth %.1f; %v\n",
			n.at, n.chair, a.mm, code, would, c.notes, n.cents, n.half, n.refused, st.Offset, st.SD, c.truth(), c.habits)
	}
	if a.mm != 0 {
		d.beside.b.Moved(id, clock(n.at), a.mm, true)
	}
	return a
}

// made is what the hub made of a chair's last note, and why it does not count.
func (l *led) made(i int) string {
	rs, err := l.store.Readings(context.Background(), l.hub.Section().ID, time.Time{})
	must(err)
	for _, r := range slices.Backward(rs) {
		if r.Chair == l.ids[i] {
			if r.Answer == nil {
				return string(r.Why)
			}
			return strings.TrimSpace(r.Answer.Code + " " + string(r.Why))
		}
	}
	return ""
}

// wanted are those whom belief alone would hear again.
func (d *differing) wanted(at float64) (list string) {
	for _, c := range d.beside.b.Queue(clock(at), len(d.chairs)) {
		st, _ := d.beside.b.Standing(c.Chair)
		list += fmt.Sprintf("; chair %d %s, %.3f outside after %d notes: %v", c.Chair-1, c.Why, st.Outside, st.Notes, d.chairs[c.Chair-1].habits)
	}
	return list
}
