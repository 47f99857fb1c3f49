package phrase_test

import (
	"fmt"

	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// A move is said in the language of a player's page, with the notes named as the
// player reads them.
func Example() {
	for _, tag := range []string{"en-GB", "de", "fr", "es"} {
		t := phrase.Player.In(tag, pitch.Style{})
		fmt.Println(t.Say("move.pull", t.Slide("main slide"), 6), t.Within(11, 2))
	}
	german := phrase.Player.In("de", pitch.Style{Naming: pitch.German})
	fmt.Println(german.Say("view.play", german.Notes.Of(58)))
	// Output:
	// Pull the main slide 6 mm. 11 cents sharp, give or take 2
	// Zieh den Stimmzug 6 mm heraus. 11 Cent zu hoch, auf 2 genau
	// Tirer la coulisse d’accord de 6 mm. 11 cents trop haut, à 2 près
	// Saca la bomba general 6 mm. 11 cents alto, con un margen de 2
	// Spiel dein B3, locker, und halte es.
}
