package slide

import (
	"math"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"

	"gonum.org/v1/gonum/mat"
)

// Known is what is known of one note of a player in this tune-up, with the
// slides where they stand now: how far it stands from its target.
type Known struct {
	Note pitch.Note
	Path instrument.Path
	Belief
}

// pooled is what several notes together say of one slide.
type pooled struct {
	Belief      // of the present note, each note's theory taken out; SD from the readings alone
	tells  bool // whether the notes say where the slide belongs
	notes  int  // how many they are
}

// leastSD keeps a belief from being taken for certain, in cents.
const leastSD = 0.1

// pool weighs notes for the slide they share. Each note k is modelled as
//
//	offset = share of the slide felt on its path × error of the slide
//	       + theory of its partial and its fingering where it is large, each with its doubt
//	       + doubt of the reading
//
// and the error is the generalised least-squares estimate: notes of one partial
// share that partial's doubt, notes of one fingering the fingering's. From three
// notes on, one that fits badly counts less (Huber's weights). The answer is the
// error as felt on a path. One note alone simply stands where it was heard, its
// theory taken out.
func pool(in *instrument.Instrument, set instrument.Settings, path instrument.Path, notes []Known) pooled {
	n := len(notes)
	if n == 0 {
		return pooled{}
	}
	if k := notes[0]; n == 1 && k.Path == path {
		return pooled{Belief: Belief{k.Offset - in.Nature(k.Path), max(k.SD, leastSD)}, tells: in.Tells(k.Path), notes: 1}
	}
	x, share := mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
	sd := make([]float64, n)
	felt := in.Length(path, set, instrument.DefaultAir)
	out := pooled{notes: n}
	for i, k := range notes {
		x.SetVec(i, float64(k.Offset-in.Nature(k.Path)))
		share.SetVec(i, felt/in.Length(k.Path, set, instrument.DefaultAir))
		sd[i] = math.Max(k.SD, leastSD)
		out.tells = out.tells || in.Tells(k.Path)
	}
	doubt := doubts(in, notes)
	weight := ones(n)
	var w []float64
	for range robustRounds {
		w = blend(doubt, sd, weight, share)
		m := mat.Dot(mat.NewVecDense(n, w), x)
		out.Offset = pitch.Cents(m)
		if n < 3 {
			break
		}
		for i := range weight {
			r := math.Abs(x.AtVec(i)-m*share.AtVec(i)) / math.Sqrt(doubt.At(i, i)+sd[i]*sd[i])
			weight[i] = math.Min(1, huber/math.Max(r, 1e-9))
		}
	}
	var read float64
	for i := range w {
		read += w[i] * w[i] * sd[i] * sd[i]
	}
	out.SD = math.Sqrt(read)
	wv := mat.NewVecDense(n, w)
	one := instrument.Theory{Partial: instrument.TellsBelow}.PartialDoubt()
	out.tells = out.tells || n > 1 && math.Sqrt(math.Max(0, mat.Inner(wv, doubt, wv))) < one
	return out
}

// doubts is how well the theory of notes is known, as their covariance.
func doubts(in *instrument.Instrument, notes []Known) *mat.SymDense {
	d := mat.NewSymDense(len(notes), nil)
	for i, a := range notes {
		for j, b := range notes[:i+1] {
			v := 0.0
			if a.Path.Partial == b.Path.Partial {
				v += math.Pow(in.Theory(a.Path).PartialDoubt(), 2)
			}
			if a.Path.SamePath(b.Path) {
				v += math.Pow(in.ValveDoubt(a.Path), 2)
			}
			d.SetSym(i, j, v)
		}
	}
	return d
}

// blend returns the weights of the least-squares estimate of the error: C⁻¹s
// over sᵀC⁻¹s.
func blend(doubt *mat.SymDense, sd, weight []float64, share *mat.VecDense) []float64 {
	n := len(sd)
	c := mat.NewSymDense(n, nil)
	c.CopySym(doubt)
	for i := range n {
		c.SetSym(i, i, (c.At(i, i)+sd[i]*sd[i])/weight[i])
	}
	var chol mat.Cholesky
	var w mat.VecDense
	if !chol.Factorize(c) || chol.SolveVecTo(&w, share) != nil {
		w.CloneFromVec(share) // only overflow gets here: all count alike
	}
	w.ScaleVec(1/mat.Dot(&w, share), &w)
	return w.RawVector().Data
}
