//go:build unix

package report

import (
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"bellrow/hub/sqlite"
)

// BenchmarkYear reports on a year of daily rehearsals of 120 chairs, two
// readings each, from a file on disk: the size of the file, the time to report
// on the last 90 days, as bellrow report does, and on all of it. The
// processor's time is told beside, for a machine that has other things to do.
func BenchmarkYear(b *testing.B) {
	y := year{chairs: 120, days: 250, wanderer: -1}
	path := filepath.Join(b.TempDir(), "year.db")
	store, err := sqlite.Open(b.Context(), path)
	if err != nil {
		b.Fatal(err)
	}
	defer store.Close()
	section, err := y.fill(b.Context(), store)
	if err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		name  string
		since time.Time
	}{
		{"season", firstDay.AddDate(0, 0, y.days-90)},
		{"all", time.Time{}},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			n, before := 0, cpu()
			for b.Loop() {
				records, err := Load(b.Context(), store, section, c.since)
				if err != nil {
					b.Fatal(err)
				}
				n = len(records.Figures)
				if err := WriteHTML(io.Discard, Make(records)); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric((cpu()-before).Seconds()/float64(b.N), "cpu-s/op")
			b.ReportMetric(float64(n), "readings")
			if info, err := os.Stat(path); err == nil {
				b.ReportMetric(float64(info.Size())/1e6, "MB")
			}
		})
	}
}

// cpu is the processor time that this process has used.
func cpu() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
