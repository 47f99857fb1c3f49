package report_test

import (
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/report"
	"bellrow/proto/phrase"
)

// TestMovesWentAsTheLeaderWasTold: a move that was too small to tell does not
// count as one that the pitch went along with, however the figures lie.
func TestMovesWentAsTheLeaderWasTold(t *testing.T) {
	section := &hub.Section{Chairs: []hub.Chair{{ID: 1, Label: "Cornet 1", Instrument: "cornet_bb"}}}
	for verdict, went := range map[string]bool{"went": true, "partly": false, "small": false, "unsure": false} {
		players := report.Players(report.Records{Section: *section, Moves: []hub.MoveRecord{{Chair: 1, Expected: -4, Measured: -4, FollowThrough: verdict}}})
		if moves := players[0].Moves; len(moves) != 1 || moves[0].Went != went {
			t.Errorf("%s: %+v, need one that went along: %v", verdict, moves, went)
		}
	}
}

// TestOneDayIsNamedOnce: a report on one rehearsal names its day, not a span.
func TestOneDayIsNamedOnce(t *testing.T) {
	r := report.Report{From: "2024-03-05", To: "2024-03-05"}.In(phrase.Tongue{})
	if got := r.Between(); got != "5 Mar 2024" {
		t.Errorf("one day is called %q", got)
	}
	r.To = "2024-03-12"
	if got := r.Between(); got != "5 Mar 2024 to 12 Mar 2024" {
		t.Errorf("two days are called %q", got)
	}
}

// TestDaysAreWrittenAsTheLanguageDoes: no page of a report has a date by its digits.
func TestDaysAreWrittenAsTheLanguageDoes(t *testing.T) {
	for tag, want := range map[string]string{"en-GB": "5 Mar 2024", "en-US": "Mar 5, 2024", "de": "5. März 2024", "fr": "5 mars 2024", "es": "5 mar 2024"} {
		r := report.Report{From: "2024-03-05", To: "2024-03-05", Rehearsals: 1, Days: []report.SectionDay{{Date: "2024-03-05"}},
			Players: []report.PlayerReport{{Label: "Horn 1", Days: []report.PlayerDay{{Date: "2024-03-05"}}}}}.In(phrase.Report.In(tag, phrase.Tongue{}.Notes))
		page, err := report.Sheets(r)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(page), "2024-03") || strings.Count(string(page), want) < 3 {
			t.Errorf("%s: a day is not written %q everywhere: %s", tag, want, page)
		}
	}
}

// TestTheSumIsOfTheSheets: the section's moves are those of its players' sheets; a
// move that was taken back, one that nobody made and those of a chair that was taken
// out are in neither.
func TestTheSumIsOfTheSheets(t *testing.T) {
	r := report.Make(report.Records{
		Section: hub.Section{Chairs: []hub.Chair{{ID: 1, Label: "Cornet 1", Instrument: "cornet_bb"}, {ID: 2, Label: "Cornet 2", Instrument: "cornet_bb"}}},
		Moves: []hub.MoveRecord{
			{Chair: 1, Expected: -4, Measured: -4, FollowThrough: "went"}, {Chair: 2, Expected: -4, Measured: -1, FollowThrough: "partly"},
			{Chair: 1, Expected: -4, FollowThrough: "went", Withdrawn: true}, {Chair: 1, Expected: -4}, {Chair: 3, Expected: -4, Measured: -4, FollowThrough: "went"},
		},
	})
	sheets := 0
	for _, p := range r.Players {
		sheets += p.Moves
	}
	if r.Moves != sheets || sheets != 2 {
		t.Errorf("the section has %d moves and its sheets %d, need 2", r.Moves, sheets)
	}
}
