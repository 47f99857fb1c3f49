package tuneup

import (
	"slices"
	"testing"
	"time"

	"bellrow/hub"
)

// TestSettingsLieInTheOrderOfTime: a setting that bears an earlier time than those before it is
// entered among them, where a restart finds it; of one time the one that came last is the last.
func TestSettingsLieInTheOrderOfTime(t *testing.T) {
	var s State
	begin := time.Date(2026, 11, 2, 19, 0, 0, 0, time.UTC)
	for i, minute := range []int{5, 9, 7, 5, 9, 1, 7, 0, 20} {
		s.addSetting(hub.SettingRecord{Chair: 1, At: begin.Add(time.Duration(minute) * time.Minute), MM: float64(i)})
	}
	var order []float64
	for _, rec := range s.settings {
		order = append(order, rec.MM)
	}
	if want := []float64{7, 5, 0, 3, 2, 6, 1, 4, 8}; !slices.Equal(order, want) {
		t.Errorf("in the order %v, want %v", order, want)
	}
}
