package pitch_test

import (
	"fmt"

	"bellrow/proto/pitch"
)

// A German types B and means B flat; whoever asked shows both readings.
func ExampleStyle_Parse() {
	german := pitch.Style{Naming: pitch.German}
	p, err := german.Parse("B3")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(p.Note.Display(), p.Or[0].Display(), german.Naming.Both(p.Note.Name))
	// Output: B♭3 B3 B (B♭)
}
