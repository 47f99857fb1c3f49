package belief

// Rules weigh what a tune-up costs people against how near it brings them.
type Rules struct {
	// Far is the least move in cents that must be heard again: a pitch that stays can be
	// told from one that goes, for two readings of 2 cents leave 2.8 on their difference.
	Far float64
	// Least is the least fall of the chance of being outside that is worth a move of the
	// slide, once the price of the wrong way times the chance that it goes there is taken
	// off: nobody is sent the wrong way for a small gain. The price is First on a player's
	// first note, on which half of all wrong moves were made and which another follows
	// soon, Second on the second, Later from then on, and Last on the last: what is not
	// made good then stays.
	Least                      float64
	First, Second, Later, Last float64
	// Size is by which power of the move, in bands, the price grows; usually by none.
	Size float64
	// Wrong is the greatest chance of going the wrong way with which a move is made at
	// all, where that counts beside the price; usually any.
	Wrong float64
	// Enough is the expected number of chairs outside at which a tune-up ends, and
	// Nothing the gain of the best further note at which it ends too; Many is what a
	// player's fifth and sixth note must gain.
	Enough, Nothing, Many float64
	// Notes are asked of one player in a tune-up, Ever of one in twenty; two more for
	// each further tuning note.
	Notes, Ever int
}

// Usual are the rules of bellrow.
var Usual = Rules{
	Far: 8, Least: 0.005, First: 64, Second: 24, Later: 4, Last: 0.4, Wrong: 1,
	Enough: 0.06, Nothing: 0.018, Many: 0.03, Notes: MostNotes, Ever: MostEver,
}

// Free are rules without what people ask beside being in tune: no price on moves the
// wrong way, six notes for anybody. They show what the rules cost.
func (r Rules) Free() Rules {
	r.First, r.Second, r.Later, r.Last, r.Notes = 0, 0, 0, 0, r.Ever
	return r
}

// price of the wrong way after so many notes of a player who may be asked for usual.
func (r *Rules) price(asked, usual int) float64 {
	switch {
	case asked < 2:
		return r.First
	case asked >= usual:
		return r.Last
	case asked == 2:
		return r.Second
	}
	return r.Later
}
