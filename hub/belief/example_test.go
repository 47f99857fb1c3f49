package belief_test

import (
	"fmt"
	"time"

	"bellrow/hub/belief"
)

var seven = time.Date(2026, time.November, 23, 19, 0, 0, 0, time.UTC)

func at(seconds int) time.Time { return seven.Add(time.Duration(seconds) * time.Second) }

// A trumpet's main slide: 2.35 cents with each millimetre, 12 mm out.
var trumpet = belief.Slide{MM: 12, Max: 35, PerMM: 2.35}

// Three trumpets: one in tune, one sharp, one not heard yet.
func Example() {
	s := belief.New(belief.Config{})
	for id := int64(1); id <= 3; id++ {
		s.Sit(id, trumpet, belief.Profile{})
	}
	s.Heard(1, belief.Reading{At: at(4), Cents: 0.5, Half: 1})
	fmt.Printf("first: move %+.0f mm\n", s.Best(1))
	s.Heard(2, belief.Reading{At: at(8), Cents: 19, Half: 1})
	mm := s.Best(2)
	fmt.Printf("second: move %+.0f mm\n", mm)
	s.Moved(2, at(8), mm, true)
	next, _ := s.Next(at(9), 2)
	fmt.Println("next:", next.Chair, next.Why)
	s.Heard(3, belief.Reading{At: at(13), Cents: -1, Half: 1})
	next, _ = s.Next(at(15))
	fmt.Println("next:", next.Chair, next.Why)
	fmt.Println("over:", s.Over(at(15)))
	now := 20
	for !s.Over(at(now)) {
		c, _ := s.Next(at(now))
		s.Heard(c.Chair, belief.Reading{At: c.Start.Add(3 * time.Second), Cents: 0.2, Half: 1})
		now += 10
	}
	for id := int64(1); id <= 3; id++ {
		st, _ := s.Standing(id)
		fmt.Println(st.Notes, "notes, owed:", st.Owed)
	}
	// Output:
	// first: move +0 mm
	// second: move +8 mm
	// next: 3 first
	// next: 2 moved
	// over: false
	// 2 notes, owed: false
	// 3 notes, owed: false
	// 2 notes, owed: false
}

// The lips keep the pitch while the slide goes out by 8 mm.
func ExampleSection_Standing() {
	s := belief.New(belief.Config{})
	s.Sit(1, trumpet, belief.Profile{})
	s.Heard(1, belief.Reading{At: at(4), Cents: 19, Half: 0.5})
	s.Moved(1, at(5), 8, true)
	st, _ := s.Standing(1)
	fmt.Println("owed a hearing:", st.Owed)
	s.Heard(1, belief.Reading{At: at(20), Cents: 17.5, Half: 0.5})
	st, _ = s.Standing(1)
	fmt.Println("held:", st.Held)
	// Output:
	// owed a hearing: true
	// held: true
}

// Who scatters is known after some tune-ups.
func ExampleSection_Profile() {
	p := belief.Profile{}
	for range 6 {
		s := belief.New(belief.Config{})
		s.Sit(1, trumpet, p)
		for i, cents := range []float64{4, -5, 3, -3} {
			s.Heard(1, belief.Reading{At: at(10 * i), Cents: cents, Half: 1})
		}
		p = s.Profile(1)
	}
	likeliest := 0
	for i, w := range p.Scatter {
		if w > p.Scatter[likeliest] {
			likeliest = i
		}
	}
	fmt.Println(belief.Scatters[likeliest], "cents from attack to attack")
	// Output:
	// 4 cents from attack to attack
}
