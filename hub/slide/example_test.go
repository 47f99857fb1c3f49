package slide_test

import (
	"fmt"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// A trumpet player's B flat settles 14 cents sharp with the main slide 12 mm
// out.
func ExampleAdvise() {
	trumpet, err := instrument.Find("trumpet_bb")
	if err != nil {
		fmt.Println(err)
		return
	}
	note := trumpet.TuningNote(10) // B flat
	target := pitch.Reference{}.Frequency(note)
	a := slide.Advise(slide.Input{
		Instrument: trumpet, Note: note, Target: target,
		Reading:  slide.Reading{Hz: target.Shift(14), CI95: 1.5, Settled: true},
		Settings: instrument.Settings{instrument.Main: 12},
	})
	fmt.Println(slide.Say(a).Headline)
	fmt.Println(slide.Say(a).Detail)
	fmt.Println(slide.Say(a).Next)
	fmt.Println(slide.Say(a).Small)
	// Output:
	// Pull the main slide 6 mm.
	// From 12 to 18 mm out.
	// Then rest, breathe, and play the note again.
	// 14 cents sharp, give or take 2
}
