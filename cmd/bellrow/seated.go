package main

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"time"

	"bellrow/node/find"
	"bellrow/proto"
)

// Bounds on what a hub that has proved nothing yet may say on the page.
const (
	seatsWithin   = 2 * time.Second
	maxSeatsBytes = 1 << 20
	maxSeatText   = 80
	maxSeats      = 40
)

// lookClient goes straight to a hub of this network, as nodes do: through no proxy,
// and nowhere that an answer sends it.
var lookClient = &http.Client{
	Transport:     &http.Transport{DisableKeepAlives: true},
	CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
}

// seated asks a hub that was found which chairs have their laptop, as its wall
// shows them; nil where it does not say. Of hubs that speak TLS the key is not
// known before a seat is taken, and they are not asked.
func seated(ctx context.Context, h find.Hub) []string {
	if h.TLS || len(h.Addresses) == 0 {
		return nil
	}
	ctx, cancel := context.WithTimeout(ctx, seatsWithin)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+h.Addresses[0]+"/api/row", nil)
	if err != nil {
		return nil
	}
	resp, err := lookClient.Do(r)
	if err != nil {
		return nil
	}
	defer resp.Body.Close()
	return seatsOf(io.LimitReader(resp.Body, maxSeatsBytes))
}

// seatsOf reads the chairs at which somebody sits from a row.
func seatsOf(r io.Reader) (out []string) {
	var row struct {
		Chairs []struct{ Label, Name, State string } `json:"chairs"`
	}
	if json.NewDecoder(r).Decode(&row) != nil {
		return nil
	}
	for _, c := range row.Chairs {
		if c.State == "away" || c.State == "absent" || len(out) == maxSeats {
			continue
		}
		who := c.Label
		if c.Name != "" && !strings.EqualFold(c.Name, c.Label) {
			who += " (" + c.Name + ")"
		}
		if who = strings.TrimSpace(who); who != "" && proto.Printable(who) && len(who) <= maxSeatText {
			out = append(out, who)
		}
	}
	return out
}
