package network

import (
	"encoding/json"
	"fmt"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"bellrow/hub/show"
	"bellrow/testdata/smalldisk"
)

// rowOf asks a hub for its row, as a page does.
func rowOf(t *testing.T, address string) show.Row {
	t.Helper()
	resp, err := http.Get("http://" + address + "/api/row")
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	var row show.Row
	if err := json.NewDecoder(resp.Body).Decode(&row); err != nil {
		t.Fatal(err)
	}
	return row
}

// A hub whose disk is full to the last byte goes on, says so on the row, and
// acknowledges nothing more until there is room. Killed and started again
// meanwhile, it still has all that it acknowledged, and the nodes have the rest.
func TestFullDisk(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	t.Parallel()
	disk := smalldisk.New(t, 2048)
	hubOn := func(listen string) (*process, string) {
		p, err := start("", roleHub, "-data", filepath.Join(disk.Dir, "hub.db"), "-listen", listen, "-announce=false", "-screens")
		if err != nil {
			t.Fatal(err)
		}
		var port int
		waitFor(t, "the hub", func() bool {
			_, err := fmt.Sscanf(p.out.String(), "ready %d", &port)
			return err == nil
		})
		return p, fmt.Sprintf("127.0.0.1:%d", port)
	}
	first, address := hubOn("127.0.0.1:0")
	defer first.kill()
	nodes := t.TempDir()
	players, err := start("", roleNodes, "-dir", nodes, "-count", "4", "-every", "50ms", "-hub", address)
	if err != nil {
		t.Fatal(err)
	}
	defer players.kill()
	set := func(full bool) {
		waitFor(t, fmt.Sprintf("the row to say that the disk is full: %v", full), func() bool {
			said := strings.Join(rowOf(t, address).Trouble, " ")
			return strings.Contains(said, "The disk is full") == full && (full || said == "")
		})
	}
	waitFor(t, "the players", func() bool { return rowOf(t, address).Section.Present == 4 })
	disk.Fill(t)
	set(true)
	disk.Free(t)
	set(false)
	disk.Fill(t)
	set(true)
	first.kill()
	second, _ := hubOn(address)
	defer second.kill()
	set(true)
	disk.Free(t)
	set(false)
	if err := players.stop(drainWithin); err != nil {
		t.Fatal(err)
	}
	if err := second.stop(endWithin); err != nil {
		t.Fatal(err)
	}
	sent, err := journals(nodes)
	if err != nil {
		t.Fatal(err)
	}
	got, err := count(t.Context(), filepath.Join(disk.Dir, "hub.db"), sent)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(got)
	if err := got.err(); err != nil {
		t.Error(err)
	}
}
