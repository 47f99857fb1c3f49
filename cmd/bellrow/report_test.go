package main

import (
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	sheets "bellrow/hub/report"
	"bellrow/hub/sqlite"
	"bellrow/proto"
	"bellrow/proto/instrument"
)

// records makes a data folder with two chairs and a few days of records.
func records(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	store, err := sqlite.Open(t.Context(), filepath.Join(dir, databaseFile))
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	s, err := store.SaveSection(t.Context(), hub.Section{Name: "Hill Brass", Good: 5, Near: 10, Chairs: []hub.Chair{
		{Label: "Cornet 1", Name: "Ada", Instrument: "cornet_bb"}, {Label: "Tuba", Name: "Ben", Instrument: "tuba_f"},
	}})
	if err != nil {
		t.Fatal(err)
	}
	for d := range 4 {
		at := time.Now().AddDate(0, 0, d-4)
		for i, c := range s.Chairs {
			r := hub.Reading{Chair: c.ID, Round: 1, Node: fmt.Sprint("node", i), Boot: "b", At: at, Note: 58, Target: 233.08, Cents: 4, Counted: true, Verdict: "set",
				Wire: proto.Reading{Sequence: uint64(d + 1), Hz: 233.6, CI95: 1, Settled: true, Played: 500, Start: 1, End: 2}}
			if _, err := store.AddReadings(t.Context(), []hub.Reading{r}); err != nil {
				t.Fatal(err)
			}
			if err := store.AddSetting(t.Context(), hub.SettingRecord{Chair: c.ID, At: at, Slide: instrument.Main, MM: float64(12 + i), Source: "player"}); err != nil {
				t.Fatal(err)
			}
		}
	}
	return dir
}

func ok(t *testing.T, args ...string) string {
	t.Helper()
	code, out, errs := trial(t, append([]string{"report"}, args...)...)
	if code != exitOK {
		t.Fatalf("report %v: status %d, %s", args, code, errs)
	}
	return out
}

func TestReport(t *testing.T) {
	dir := records(t)
	if out := ok(t, "--data", dir); !strings.Contains(out, "Hill Brass") || !strings.Contains(out, "Ada, ") || !strings.Contains(out, "4 rehearsals, 8 readings") {
		t.Errorf("text:\n%s", out)
	}
	if out := ok(t, "--data", dir, "--no-names"); strings.Contains(out, "Ada") || !strings.Contains(out, "Cornet 1") {
		t.Errorf("without names:\n%s", out)
	}
	if out := ok(t, "--data", dir, "--player", "tuba", "--csv"); strings.Contains(out, "Ada") || strings.Count(out, "\n") != 5 {
		t.Errorf("one player's table:\n%s", out)
	}
	var r sheets.Report
	if err := json.Unmarshal([]byte(ok(t, "--data", dir, "--json", "--since", time.Now().AddDate(0, 0, -2).Format(time.DateOnly))), &r); err != nil || r.Rehearsals != 2 {
		t.Errorf("%v: %d rehearsals since the day before yesterday, want 2", err, r.Rehearsals)
	}
	page := filepath.Join(t.TempDir(), "r.html")
	ok(t, "--data", dir, "--html", page)
	if data, err := os.ReadFile(page); err != nil || !strings.Contains(string(data), "<svg") {
		t.Errorf("%v: no drawing on the page", err)
	}
}

// TestReportOnThePages: the hub's own pages show the report of its section, to
// whoever has turned in the leader's key.
func TestReportOnThePages(t *testing.T) {
	s, err := openStation(t.Context(), stationConfig{listen: "127.0.0.1:0", data: records(t), log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	ask := func(method, path, body string, cookies ...*http.Cookie) *http.Response {
		r := httptest.NewRequest(method, s.local()+path, strings.NewReader(body))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		for _, c := range cookies {
			r.AddCookie(c)
		}
		w := httptest.NewRecorder()
		s.server.Handler.ServeHTTP(w, r)
		return w.Result()
	}
	if r := ask("GET", "report", ""); r.StatusCode != http.StatusSeeOther {
		t.Errorf("without the key: %s", r.Status)
	}
	key := ask("POST", "leader", strings.TrimPrefix(s.leaderLink(), s.local()+"row#"))
	r := ask("GET", "report", "", key.Cookies()...)
	page, err := io.ReadAll(r.Body)
	if err != nil || r.StatusCode != http.StatusOK || !strings.Contains(string(page), "4 rehearsals, 8 readings") || !strings.Contains(string(page), "<h2>Ada</h2>") {
		t.Errorf("%v, %s after the key (%s):\n%s", err, r.Status, key.Status, page)
	}
}

// TestRecordsBelongToPeople: all can be taken along, and erased for good.
func TestRecordsBelongToPeople(t *testing.T) {
	dir := records(t)
	file := filepath.Join(t.TempDir(), "all.json")
	ok(t, "--data", dir, "--export", file)
	var all sheets.Export
	data, err := os.ReadFile(file)
	if err == nil {
		err = json.Unmarshal(data, &all)
	}
	if err != nil || len(all.Readings) != 8 || len(all.Settings) != 8 || len(all.Section.Chairs) != 2 {
		t.Fatalf("%v: exported %d readings, %d settings, %d chairs; want 8, 8, 2", err, len(all.Readings), len(all.Settings), len(all.Section.Chairs))
	}
	if out := ok(t, "--data", dir, "--delete-player", "Ada"); !strings.Contains(out, "would erase") {
		t.Errorf("without --yes: %s", out)
	}
	if out := ok(t, "--data", dir); !strings.Contains(out, "Ada") {
		t.Error("erased without --yes")
	}
	old := filepath.Join(dir, "bellrow-v1.db")
	if err := os.WriteFile(old, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if out := ok(t, "--data", dir, "--delete-player", "Ada", "--yes"); !strings.Contains(out, old) {
		t.Errorf("nothing is said of the copy that still holds Ada: %s", out)
	}
	if out := ok(t, "--data", dir); strings.Contains(out, "Ada") || strings.Contains(out, "Cornet") || !strings.Contains(out, "Ben") {
		t.Errorf("after erasing Ada:\n%s", out)
	}
	// secure_delete overwrites what is erased, also in the file itself.
	for _, name := range []string{databaseFile, databaseFile + "-wal"} {
		if data, _ := os.ReadFile(filepath.Join(dir, name)); strings.Contains(string(data), "Cornet 1") {
			t.Errorf("the erased player's label is still in %s", name)
		}
	}
	ok(t, "--data", dir, "--forget-before", time.Now().AddDate(0, 0, -1).Format(time.DateOnly), "--yes")
	if out := ok(t, "--data", dir); !strings.Contains(out, "1 rehearsal, 1 reading,") {
		t.Errorf("after forgetting:\n%s", out)
	}
}

func TestKeepDays(t *testing.T) {
	dir := records(t)
	ok(t, "--data", dir, "--keep-days", "2")
	store, err := openStore(t.Context(), dir, slog.New(slog.DiscardHandler)) // as the hub does at its start
	if err != nil {
		t.Fatal(err)
	}
	sections, _ := store.Sections(t.Context())
	rs, err := store.Readings(t.Context(), sections[0].ID, time.Time{})
	if err != nil || len(rs) != 2 {
		t.Errorf("%v: %d readings are kept, want the 2 of yesterday", err, len(rs))
	}
	store.Close()
}

func TestReportMisuse(t *testing.T) {
	dir := records(t)
	for _, args := range [][]string{
		{"--json", "--csv"}, {"--since", "yesterday"}, {"--section", "Nobody"}, {"--player", "Nobody"}, {"--delete-player", "Nobody", "--yes"}, {"--forget-before", "1.1.2030", "--yes"},
	} {
		if code, _, errs := trial(t, append([]string{"report", "--data", dir}, args...)...); code != exitUsage || !strings.Contains(errs, "\n  ") {
			t.Errorf("%v: status %d, %q; want a sentence and a hint", args, code, errs)
		}
	}
	if code, _, _ := trial(t, "report", "--data", t.TempDir()); code != exitFailed {
		t.Errorf("an empty folder: status %d", code)
	}
}
