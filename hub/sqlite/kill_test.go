package sqlite_test

import (
	"bufio"
	"context"
	"database/sql"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/session"
	"bellrow/hub/sqlite"
	"bellrow/proto"
)

// killed is the environment variable that makes the test program a hub to be
// killed: it holds the path of its data.
const killed = "HUB_TO_BE_KILLED"

func TestMain(m *testing.M) {
	flag.Parse()
	if path := os.Getenv(killed); path != "" {
		if err := serveUntilKilled(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	os.Exit(m.Run())
}

const players = 4

// serveUntilKilled lets players deliver as fast as they can and prints each
// reading once the hub says that it is stored.
func serveUntilKilled(path string) error {
	ctx := context.Background()
	store, err := sqlite.Open(ctx, path)
	if err != nil {
		return err
	}
	h, err := session.New(ctx, session.Config{Store: store})
	if err != nil {
		return err
	}
	var out sync.Mutex
	errs := make(chan error)
	boot := fmt.Sprint(os.Getpid())
	for i := range players {
		node := fmt.Sprintf("n%d", i)
		j, err := h.Join(ctx, hub.Peer{Node: node, Boot: boot, Chair: node, Instrument: "trumpet_bb"})
		if err != nil {
			return err
		}
		go func() {
			for seq := uint64(1); ; seq++ {
				if err := h.Deliver(ctx, j.Chair, node, boot, proto.Reading{Sequence: seq, Hz: 440, Settled: true}); err != nil {
					errs <- err
					return
				}
				out.Lock()
				fmt.Printf("%s %s %d\n", node, boot, seq)
				out.Unlock()
			}
		}()
	}
	return <-errs
}

// kills is a small case; a hundred were measured, see testdata/results/hub.md.
var kills = flag.Int("kills", 10, "how often TestKillLosesNothingAcknowledged kills a hub")

// TestKillLosesNothingAcknowledged kills a hub in the midst of its writes,
// again and again on the same data. That a process dies says nothing about
// power cuts; for those the file is written with full synchronisation.
func TestKillLosesNothingAcknowledged(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	path := filepath.Join(t.TempDir(), "hub.db")
	acknowledged := map[string]uint64{} // by node and boot
	total := 0
	for k := range *kills {
		n, err := killOnce(path, time.Duration(rnd.IntN(20_000))*time.Microsecond, acknowledged)
		if err != nil {
			t.Fatalf("kill %d: %v", k, err)
		}
		total += n
		check(t, path, acknowledged)
		if t.Failed() {
			t.Fatalf("after kill %d", k)
		}
	}
	t.Logf("%d kills, %d acknowledged readings, 0 lost, 0 doubled", *kills, total)
}

// killOnce starts a hub, kills it some time after its first acknowledgement,
// and notes what was acknowledged.
func killOnce(path string, after time.Duration, acknowledged map[string]uint64) (int, error) {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), killed+"="+path)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		return 0, err
	}
	if err := cmd.Start(); err != nil {
		return 0, err
	}
	n := 0
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if n == 0 {
			time.AfterFunc(after, func() { _ = cmd.Process.Kill() })
		}
		var node, boot string
		var seq uint64
		if _, err := fmt.Sscanf(lines.Text(), "%s %s %d", &node, &boot, &seq); err != nil {
			continue // torn by the kill
		}
		key := node + " " + boot
		acknowledged[key] = max(acknowledged[key], seq)
		n++
	}
	_ = cmd.Wait() // killed
	if n == 0 {
		return 0, fmt.Errorf("nothing was acknowledged")
	}
	return n, nil
}

// check opens the data as the next hub would.
func check(t *testing.T, path string, acknowledged map[string]uint64) {
	t.Helper()
	store, err := sqlite.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	for key, seq := range acknowledged {
		var node, boot string
		fmt.Sscan(key, &node, &boot)
		got, err := store.Stored(t.Context(), node, boot)
		if err != nil || got < seq {
			t.Errorf("%s: stored up to %d (%v), acknowledged up to %d", key, got, err, seq)
		}
	}
	if err := store.Close(); err != nil {
		t.Error(err)
	}
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var verdict string
	if err := db.QueryRow("PRAGMA integrity_check").Scan(&verdict); err != nil || verdict != "ok" {
		t.Errorf("integrity check: %s (%v)", verdict, err)
	}
	var doubled int
	err = db.QueryRow("SELECT count(*) FROM (SELECT 1 FROM reading GROUP BY node, boot, sequence HAVING count(*) > 1)").Scan(&doubled)
	if err != nil || doubled != 0 {
		t.Errorf("%d readings are there twice (%v)", doubled, err)
	}
}
