package phrase

// american is English as American players say it, where that differs.
var american = texts{
	"stay.under-a-millimetre": "The difference is less than a millimeter of slide.",
	"player.slides.how":       "Measure the bare tube of each slide with a ruler, in millimeters. The whole travel, from closed to where you would never pull further, has to be measured once.",
	"note.why.wrong-partial":  "That is the neighboring partial of the same fingering.",
	"view.bend.back":          "The center came back to the same place.",
	"view.together":           "You could not be told from a neighbor.",
}
