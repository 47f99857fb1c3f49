package piece_test

import (
	"fmt"
	"os"

	"bellrow/hub/piece"
	"bellrow/proto/pitch"
)

// A score is opened, its parts are given to whoever plays them by name and
// instrument, and the chords that are held in it can be called one by one.
func Example() {
	f, err := os.Open("../testdata/quay.musicxml")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer f.Close()
	p, err := piece.Read(f)
	if err != nil {
		fmt.Println(err)
		return
	}
	p = p.Guess(quartet)
	view := p.View(quartet, pitch.Style{})
	fmt.Printf("%d bars for %d parts\n", view.Bars, len(view.Parts))
	call, _, err := p.Call(view.Next, "", quartet)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(call.Chord, "at", call.Where)
	// Output:
	// 6 bars for 4 parts
	// B♭ major at bar 1
}
