package announce

import (
	"context"
	"io"
	"log"
	"net"
	"strings"
	"sync"
	"time"

	"github.com/hashicorp/mdns"

	"bellrow/proto"
)

// askFor is how long other hubs may take to say that they have a name: RFC
// 6762, section 6, lets them wait 120 ms; the rest is for a busy Wi-Fi.
const askFor = 400 * time.Millisecond

// takenOn asks the interfaces which instance names are in use, in presentation
// format and lower case, and by which hub ids ("" for what is no hub of ours).
func takenOn(ctx context.Context, interfaces []net.Interface) map[string]string {
	var mu sync.Mutex
	taken := map[string]string{}
	var wait sync.WaitGroup
	for i := range interfaces {
		for _, v6 := range []bool{false, true} {
			wait.Go(func() {
				entries := make(chan *mdns.ServiceEntry, 64)
				// An interface that cannot be asked has nobody to collide with.
				_ = mdns.QueryContext(ctx, &mdns.QueryParam{
					Service: proto.Service, Domain: strings.Trim(proto.Domain, "."), Timeout: askFor,
					Interface: &interfaces[i], Entries: entries, WantUnicastResponse: true,
					DisableIPv4: v6, DisableIPv6: !v6, Logger: log.New(io.Discard, "", 0),
				})
				mu.Lock()
				defer mu.Unlock()
				for len(entries) > 0 {
					e := <-entries
					txt, _ := proto.ParseTXT(e.InfoFields) // a stranger has no id
					taken[wire(strings.ToLower(e.Name))] = txt.Hub
				}
			})
		}
	}
	wait.Wait()
	return taken
}
