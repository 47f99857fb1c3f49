package attribute

// Fitter solves windows one after another. The zero value is ready. One
// goroutine at a time.
type Fitter struct{}

// Fit solves one stretch.
func (f *Fitter) Fit(in Input) Result {
	p := pool(&in)
	return p.verdicts(&in)
}
