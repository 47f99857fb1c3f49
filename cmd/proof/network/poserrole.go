package network

import (
	"context"
	"encoding/base64"
	"flag"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/gorilla/websocket"
	"github.com/hashicorp/mdns"
	"github.com/miekg/dns"

	"bellrow/proto"
	"bellrow/proto/pake"
)

// posers is one laptop that poses as hubs: dead ones by the hundred, and live
// ones that want the code, of which one says that it can prove itself and one
// that it is of an older version.
type posers struct {
	codes  atomic.Int64 // codes and tokens that were sent to it
	hellos atomic.Int64
}

// records answers every question about one hub.
type records []dns.RR

func (r records) Records(dns.Question) []dns.RR { return r }

// posedAs makes the records of a hub.
func posedAs(name, id, at string, port int) (records, error) {
	var out records
	escaped := strings.ReplaceAll(name, " ", `\ `)
	for _, line := range []string{
		fmt.Sprintf("_bellrow._tcp.local. 120 IN PTR %s._bellrow._tcp.local.", escaped),
		fmt.Sprintf("%s._bellrow._tcp.local. 120 IN SRV 0 0 %d %s.local.", escaped, port, id),
		fmt.Sprintf(`%s._bellrow._tcp.local. 120 IN TXT "v=1" "id=%s" "n=%s" "a=%s"`, escaped, id, name, at),
		fmt.Sprintf("%s.local. 120 IN A %s", id, at),
	} {
		rr, err := dns.NewRR(line)
		if err != nil {
			return nil, err
		}
		out = append(out, rr)
	}
	return out, nil
}

// runPosers poses until it is told to end.
func runPosers(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet(rolePosers, flag.ContinueOnError)
	name := fs.String("name", "", "")
	id := fs.String("id", "", "") // of the right hub; some pose as that very one
	dead := fs.Int("dead", 250, "")
	at := fs.String("at", "", "")
	if err := fs.Parse(args); err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGTERM)
	defer stop()
	p := &posers{}
	lan, err := net.InterfaceByName("lan")
	if err != nil {
		return err
	}
	n := 0
	announce := func(id, at string, port int) error {
		called := *name
		if n++; n > 1 { // one host has one hub of a name
			called = fmt.Sprintf("%s %d", *name, n)
		}
		rs, err := posedAs(called, id, at, port)
		if err != nil {
			return err
		}
		_, err = mdns.NewServer(&mdns.Config{Zone: rs, Iface: lan})
		return err
	}
	for i, proves := range []bool{true, false} {
		for j, as := range []string{"0000000000aa", *id} { // one sorts first
			port := 8000 + 10*i + j
			l, err := net.Listen("tcp", fmt.Sprintf(":%d", port))
			if err != nil {
				return err
			}
			go http.Serve(l, p.hub(as, proves))
			if err := announce(as, *at, port); err != nil {
				return err
			}
		}
	}
	address := netip.MustParseAddr("10.79.1.100")
	for i := range *dead {
		if err := announce(fmt.Sprintf("dead%08d", i), address.String(), 7440); err != nil {
			return err
		}
		if address = address.Next(); address.String() == "10.79.1.250" {
			address = netip.MustParseAddr("10.79.1.100")
		}
	}
	fmt.Fprintln(w, "posing")
	<-ctx.Done()
	fmt.Fprintf(w, "posers|%d|%d\n", p.hellos.Load(), p.codes.Load())
	return nil
}

// hub is a false one.
func (p *posers) hub(id string, proves bool) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var head http.Header
		if proves {
			head = http.Header{proto.HeaderProof: {proto.ProofKind}, proto.HeaderHub: {id}}
		}
		ws, err := (&websocket.Upgrader{}).Upgrade(w, r, head)
		if err != nil {
			return
		}
		defer ws.Close()
		for {
			ws.SetReadDeadline(time.Now().Add(20 * time.Second))
			_, data, err := ws.ReadMessage()
			if err != nil {
				return
			}
			m, err := proto.Decode(data)
			if err != nil || m.Hello == nil {
				continue
			}
			p.hellos.Add(1)
			if m.Hello.Join != "" || m.Hello.Token != "" {
				p.codes.Add(1)
			}
			if m.Hello.Prove != nil {
				p.guess(ws, id, m.Hello)
			}
		}
	})
}

// guess answers a proof with a guessed code.
func (p *posers) guess(ws *websocket.Conn, id string, h *proto.Hello) {
	b64 := base64.RawURLEncoding
	sid, _ := b64.DecodeString(h.Prove.Session)
	share, _ := b64.DecodeString(h.Prove.Share)
	party, err := pake.Start([]byte(proto.NewJoinCode()), pake.Channel(""), sid)
	if err != nil {
		return
	}
	keys, err := party.Responder(share, []byte(h.Node+" "+h.Boot), []byte(id))
	if err != nil {
		return
	}
	data, err := proto.Encode(proto.Message{Type: proto.TypeProof, Proof: &proto.Proof{
		Share: b64.EncodeToString(party.Share()), Tag: b64.EncodeToString(keys.ResponderTag())}})
	if err == nil {
		ws.WriteMessage(websocket.TextMessage, data)
	}
}

// posing is the trial of a network full of false hubs: fresh nodes join the
// right one, and no false one is sent a code. It returns how long the slowest
// took, and what the false hubs were told.
func posing(ctx context.Context, dead, joins int) (slowest time.Duration, hellos, codes int, err error) {
	l, err := newLAN()
	if err != nil {
		return 0, 0, 0, err
	}
	defer l.close()
	var hosts [3]string
	for i, at := range []string{hubAt, "10.79.1.3", floodAt} {
		if hosts[i], err = l.host(at + "/24"); err != nil {
			return 0, 0, 0, err
		}
	}
	dir, err := os.MkdirTemp("", "bellrow-posers-")
	if err != nil {
		return 0, 0, 0, err
	}
	defer os.RemoveAll(dir)
	hub, err := start(hosts[0], roleHub, "-data", filepath.Join(dir, "hub.db"), "-section", "Low brass", "-older=false")
	if err != nil {
		return 0, 0, 0, err
	}
	defer hub.kill()
	if err := ready(hub); err != nil {
		return 0, 0, 0, err
	}
	found, err := start(hosts[1], roleFind)
	if err != nil {
		return 0, 0, 0, err
	}
	if err := ended(found, 10*time.Second); err != nil {
		return 0, 0, 0, err
	}
	id, _, _ := strings.Cut(found.out.String(), "|")
	bad, err := start(hosts[2], rolePosers, "-name", "Low brass", "-id", id, "-at", floodAt, "-dead", fmt.Sprint(dead))
	if err != nil {
		return 0, 0, 0, err
	}
	defer bad.kill()
	for range 500 {
		if strings.Contains(bad.out.String(), "posing") || !bad.running() {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	seen, err := start(hosts[1], roleFind)
	if err == nil {
		err = ended(seen, 10*time.Second)
	}
	if n := strings.Count(seen.out.String(), "\n"); err == nil && n < dead/2 {
		err = fmt.Errorf("soak: %d hubs are seen, of which %d should be false: %s", n, dead+4, bad.out)
	}
	if err != nil {
		return 0, 0, 0, err
	}
	guest, err := start(hosts[1], roleGuest, "-hub", hubAt+":7440", "-loads", "0", "-joins", fmt.Sprint(joins))
	if err != nil {
		return 0, 0, 0, err
	}
	if err := ended(guest, 2*time.Minute); err != nil {
		return 0, 0, 0, err
	}
	r := doorsResult{worst: map[string]time.Duration{}}
	r.read(guest.out.String(), "")
	if err := bad.stop(endWithin); err != nil {
		return 0, 0, 0, err
	}
	_, told, _ := strings.Cut(bad.out.String(), "posers|")
	if _, err := fmt.Sscanf(strings.ReplaceAll(told, "|", " "), "%d %d", &hellos, &codes); err != nil {
		return 0, 0, 0, fmt.Errorf("soak: %s: %w", bad.out, err)
	}
	return r.worst["fresh node"], hellos, codes, nil
}
