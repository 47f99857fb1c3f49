package phrase

// american is English as American players say it, where that differs.
var american = texts{
	"evening.theory":          "That is theory: the air alone does 1.7 cents for each °F (Cramer 1993); that instruments do 1.1 of them, from 0.6 to 1.7, rests on no measurement that we found.",
	"stay.under-a-millimetre": "The difference is less than a millimeter of slide.",
	"player.slides.how":       "Measure the bare tube of each slide with a ruler, in millimeters. The whole travel, from closed to where you would never pull further, has to be measured once.",
	"note.why.wrong-partial":  "That is the neighboring partial of the same fingering.",
	"said.help.groups":        "The next time play in two groups, neighbors in different ones.",
	"said.help.nearer":        "The next time set the laptops nearer to the bells, or play in two groups, neighbors in different ones.",
	"view.bend.back":          "The center came back to the same place.",
	"view.together":           "You could not be told from a neighbor.",
	"study.cue.back":          "Let go, back to the center.",
	"study.cue.stay":          "Let go, back to the center, and stay there.",
	"number.date":             "%[2]s %[1]d, %[3]s",
	"piece.length.0.5":        "an eighth note",
	"piece.length.1":          "a quarter note",
	"piece.length.1.5":        "a dotted quarter",
	"piece.length.2":          "a half note",
	"piece.length.3":          "a dotted half",
	"piece.length.4":          "a whole note",
	"piece.length.other":      "%[1]v quarters",
	"problem.nothing-held":    "No chord in this piece is held for a quarter note or more.",
}
