package web

import (
	"math"
	"slices"
	"testing"

	"bellrow/hub/show"
)

func seated(perRow ...int) []show.ChairRow {
	var chairs []show.ChairRow
	for row, n := range perRow {
		for place := range n {
			chairs = append(chairs, show.ChairRow{Row: 2 * row, Place: place})
		}
	}
	return chairs
}

func TestArcFits(t *testing.T) {
	for _, tt := range []struct {
		rows []int
		fits bool
	}{
		{nil, false}, {[]int{1}, true}, {[]int{2}, true}, {[]int{5}, true}, {[]int{11}, true}, {[]int{12}, false},
		{[]int{3, 4, 5}, true}, {[]int{4, 8}, true}, {[]int{7, 5}, true}, {[]int{4, 6, 8}, true},
		{[]int{1, 1, 1, 1}, false}, {[]int{12, 12}, false}, {slices.Repeat([]int{10}, 12), false},
	} {
		if spots := arcOf(seated(tt.rows...)); (spots != nil) != tt.fits {
			t.Errorf("rows of %v fit: %v, need %v", tt.rows, spots != nil, tt.fits)
		}
	}
}

// TestArcAroundTheLeader: from the leader's left to the right, the front row
// nearest, the left half the mirror image of the right.
func TestArcAroundTheLeader(t *testing.T) {
	rows := []int{3, 4, 5}
	spots := arcOf(seated(rows...))
	const mirror = 0.02 // percent; places are rounded to a hundredth
	nearest := 0.0
	for _, n := range rows {
		row := spots[:n]
		spots = spots[n:]
		far := 0.0
		for i, s := range row {
			if i > 0 && s.X <= row[i-1].X {
				t.Errorf("chair %d of %d is at %g percent, not right of its neighbour at %g", i+1, n, s.X, row[i-1].X)
			}
			o := row[n-1-i]
			if math.Abs(s.X+o.X-100) > mirror || math.Abs(s.Y-o.Y) > mirror {
				t.Errorf("chairs %d and %d of %d are at %v and %v, need mirror images", i+1, n-i, n, s, o)
			}
			far = max(far, math.Hypot(s.X-50, s.Y-stageHigh))
		}
		if far <= nearest {
			t.Errorf("the row of %d is %g from the leader, the one before it %g: need it farther", n, far, nearest)
		}
		nearest = far
	}
}
