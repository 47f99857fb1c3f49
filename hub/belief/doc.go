// Package belief decides in a tune-up whose note is worth hearing next, which
// move to make on it, and when to stop. It holds a belief about every chair and
// knows no clock, lock, storage or word for people: events and times go in,
// choices come out, and the same events give the same choices.
//
// Positive cents are sharp, positive millimetres pull a slide out.
//
// # What is believed of a chair
//
// What counts is the offset x of the relaxed, warm instrument from its target.
// A reading y of a note is
//
//	y = x + e - c·exp(-p/τ) + d + N(0, s² + r²)
//
// with e what the lips add, c how far below its place a cold instrument began,
// p its seconds of sound and τ the pace at which it warms, d what this one of
// several tuning notes has of its own (the d of all notes sum to zero, so that x
// is their mean), s the player's scatter from attack to attack and r the
// reading's own doubt. A move that the slide should answer with Δ cents changes x
// by Δ·b + N(0, hand²), b being how far this instrument departs from the model.
//
// Given the habit of the lips, τ and s, all this is linear, and the vector
// (x, e, c, b, d) is a Gaussian that readings narrow (Kalman 1960). The habit, τ
// and s are not known, so a chair is a mixture of such Gaussians, one for each
// story: lips that add nothing; that pinch the attack, where e comes down with
// every rest; or that hold the pitch from before a move, where e takes back nine
// tenths of it until a rest lets go. Each is weighted by how well it explains
// what was heard, the beginning of the note included. At most 18 are kept;
// those that tell the same story are merged. One Gaussian alone would be sure of
// itself three times too often, which makes it unsafe to stop on.
//
// Beside each reading stands the story that it is off by more than it says, and
// beside each move that nobody confirmed the story that it was not made.
//
// The pitch of the whole section may go by a common drift; its rate is one more
// Gaussian, learned from chairs that are heard again.
//
// # What is done with it
//
//	P(out) = P(|x| > band)
//
// The move: of the three nearest whole millimetres the one that lowers P(out)
// most, less a price on the chance of going the wrong way, which is dearer on a
// player's first two notes and cheap on the last (Section.Best).
//
// The next note: the fall of P(out) that is expected of it, the best move after
// it included, per second (Section.Next). It is the mean over what the note may
// be (Gauss and Hermite's points for each habit), so it is never negative: what
// is learned cannot hurt the best move. Who was not heard comes first, in the
// order of seating; who moved far next; a cold instrument last.
//
// The end: the sum of P(out) is under 0.06 and nobody who moved by 8 cents or
// more is owed a hearing, or no further note would gain 0.018 (Section.Over).
//
// People first: five seconds of rest between two notes of a player, four notes
// in a tune-up, six for one player in twenty and only where much is gained.
// Rules has the figures.
//
// Who holds is said only of the first rested note after a move of 8 cents or more
// that the player confirmed, at 0.9 (Standing.Held).
//
// # How it is wired
//
// One Section for each tune-up: from the call of a tuning note to its end. Feed
// it in the order in which things happened; after a restart feed the stored
// records again (hub/tuneup folds its records into it).
//
//	call         New, then Sit for every chair in the order of the row, with the
//	             slide that tunes it (PerMM: -Instrument.CentsPerMM; Min, Max:
//	             slide.Limits) and the stored Profile; Sounded with what the nodes
//	             tell of playing time. Who is Warming plays warm air from now on.
//	reading      Heard, asked for or not, counted or not: Refused for whatever gives
//	             no pitch of this player's called note (another note, two sounds,
//	             overheard, loud). Cents from the chair's target. A swaying note that
//	             is read is marked Vibrato. Start and Drift with their half widths.
//	then         Best: the move to show, 0 for "leave the slide". Call Moved as soon
//	             as it is shown, sure false, so that the turns reckon with it.
//	slide told   Set, with how far it stands from where it was sent; Moved with sure
//	             true for a slide that nobody sent.
//	who plays    Next while a note sounds (playing: its chair): name that player as
//	             the next one; Next again when the note has ended, if nobody was
//	             named. Start says from when. Queue gives "you are third from now"; Wants
//	             who is to be heard again at all.
//	why          Choice.Why and Twice: nobody plays twice running without the reason.
//	on the row   Standing: Moved and not Owed is "moved, not heard", never "set";
//	             Held; Warming; Outside.
//	away, back   Away, Back: nobody waits for who is gone.
//	reference    Refer.
//	the end      Over, after every event: the tune-up is done. Doubtful names who may
//	             still be outside, to the leader only; Outside is the expected number.
//	to keep      Profile of each chair, plain figures beside the player's name, given
//	             to Sit the next time. Typical of a section's players starts a guest.
//
// What stays with hub/slide: whether a reading is believed at all, another note,
// limits of slides, valve slides in place of the main one, words, and the room:
// while all are off as one the moves are held back, and Refer or a new call
// follows. A Section is used by one goroutine.
package belief
