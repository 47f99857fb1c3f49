package retention_test

import (
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/mem"
	"bellrow/hub/retention"
)

// TestApplyErasesWhatIsOlder: by default nothing, then what is older than the
// days that were set, never what is younger.
func TestApplyErasesWhatIsOlder(t *testing.T) {
	ctx, now := t.Context(), time.Date(2030, 5, 1, 12, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		name string
		days int // -1: never set
		left int
	}{{"never set", -1, 3}, {"for ever", 0, 3}, {"thirty days", 30, 2}, {"one day", 1, 1}} {
		store := mem.New()
		s, err := store.SaveSection(ctx, hub.Section{Name: "Hill Brass", Chairs: []hub.Chair{{Label: "Tuba", Instrument: "tuba_f"}}})
		if err != nil {
			t.Fatal(err)
		}
		for _, age := range []int{0, 7, 90} { // days
			if err := store.AddSetting(ctx, hub.SettingRecord{Chair: s.Chairs[0].ID, At: now.AddDate(0, 0, -age), Slide: "main", MM: 9, Source: "player"}); err != nil {
				t.Fatal(err)
			}
		}
		if tt.days >= 0 {
			if err := retention.Set(ctx, store, tt.days); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := retention.Apply(ctx, store, now); err != nil {
			t.Fatal(err)
		}
		left, err := store.Settings(ctx, s.ID, time.Time{})
		if err != nil || len(left) != tt.left {
			t.Errorf("%s: %d records are left (%v), want %d", tt.name, len(left), err, tt.left)
		}
	}
	for _, days := range []int{-1, -5, retention.MaxDays + 1} {
		if retention.Set(ctx, mem.New(), days) == nil {
			t.Errorf("%d days are taken", days)
		}
	}
}
