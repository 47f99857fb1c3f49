package attribute

// basis is a set of terms on times that lie evenly about 0. Each term is even
// or odd, so that its first half tells the rest.
type basis struct {
	size    int
	terms   [][]float64  // by term: the first half, the middle included
	odd     []int        // by term: 1 if it is odd, 0 if it is even
	squares []float64    // Σ of products of terms, row by row
	parts   [2][]float64 // even and odd part of what is summed up or projected
}

// add tabulates one more term; odd is its parity. Even terms lose their mean.
func (b *basis) add(times []float64, odd int, term func(t float64) float64) {
	half := (len(times) + 1) / 2
	b.size = len(times)
	row := make([]float64, half)
	sum := 0.0
	for i, t := range times {
		v := term(t)
		sum += v
		if i < half {
			row[i] = v
		}
	}
	if odd == 0 {
		for i := range row {
			row[i] -= sum / float64(b.size)
		}
	}
	b.terms, b.odd = append(b.terms, row), append(b.odd, odd)
	b.parts = [2][]float64{make([]float64, half), make([]float64, half)}
}

// sum leaves Σ weight term in dst.
func (b *basis) sum(dst, weights []float64) {
	clear(b.parts[0])
	clear(b.parts[1])
	for j, w := range weights {
		if w == 0 {
			continue
		}
		part := b.parts[b.odd[j]]
		for i, v := range b.terms[j][:len(part)] {
			part[i] += w * v
		}
	}
	odd := b.parts[1]
	for i, even := range b.parts[0] {
		dst[i], dst[b.size-1-i] = even+odd[i], even-odd[i]
	}
}

// project adds Σ term d to dst for each term.
func (b *basis) project(dst, d []float64) {
	even, odd := b.parts[0], b.parts[1]
	for i := range even {
		x, y := d[i], d[b.size-1-i]
		even[i], odd[i] = x+y, x-y
	}
	if b.size%2 == 1 {
		even[b.size/2] /= 2
	}
	for j, row := range b.terms {
		part := b.parts[b.odd[j]]
		sum := 0.0
		for i, v := range row[:len(part)] {
			sum += v * part[i]
		}
		dst[j] += sum
	}
}

// square tabulates the products of terms.
func (b *basis) square() {
	n := len(b.terms)
	b.squares = make([]float64, n*n)
	full, weights := make([]float64, b.size), make([]float64, n)
	for j := range n {
		clear(weights)
		weights[j] = 1
		b.sum(full, weights)
		b.project(b.squares[j*n:(j+1)*n], full)
	}
}

// hold adds w times the products to the lower triangle of a. Terms are odd and
// even in turn, and those of different parity have no product.
func (b *basis) hold(a []float64, w float64) {
	n := len(b.terms)
	for i := range n {
		row, dst := b.squares[i*n:i*n+i+1], a[i*n:i*n+i+1]
		for j := i % 2; j <= i; j += 2 {
			dst[j] += w * row[j]
		}
	}
}
