package web

import (
	"fmt"
	"net/http"
	"strings"

	"rsc.io/qr"

	"bellrow/proto"
	"bellrow/proto/page"
)

// invitationPage is what the join page shows.
type invitationPage struct {
	Section string `json:"section"`
	// Addresses are what a player types where the hub is not found by itself.
	Addresses []string `json:"addresses"`
	// Code is for the leader's eyes. A page that was opened through a join
	// link has the code from there.
	Code   string `json:"code,omitempty"`
	Leader bool   `json:"leader"`
	// Telephones is where they take part, empty when they can only watch.
	Telephones string `json:"telephones,omitempty"`
}

func (s *Server) getInvitation(w http.ResponseWriter, r *http.Request) {
	inv := s.invitation()
	p := invitationPage{Section: s.hub.Section().Name, Addresses: []string{}, Leader: s.guard.IsLeader(r), Telephones: inv.Telephones}
	for _, l := range inv.Links {
		// With https it stays, because it has to be typed, too.
		p.Addresses = append(p.Addresses, strings.TrimPrefix(l, "http://"))
	}
	if p.Leader {
		p.Code = spaced(inv.Code)
	}
	page.JSON(w, http.StatusOK, p)
}

// spaced writes a code in two halves, as it is easiest to read across a room.
// Nodes take it with or without the space.
func spaced(code string) string {
	if len(code) < 6 || len(code)%2 != 0 {
		return code
	}
	return code[:len(code)/2] + " " + code[len(code)/2:]
}

// getQR draws the link that a telephone scans, with the code in it for the
// leader only.
func (s *Server) getQR(w http.ResponseWriter, r *http.Request) {
	link, err := scanned(s.invitation(), s.guard.IsLeader(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	code, err := qr.Encode(link, qr.M)
	if err != nil {
		s.fail(w, r, fmt.Errorf("web: code for a link of %d characters: %w", len(link), err))
		return
	}
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Cache-Control", "no-store")
	fmt.Fprint(w, drawQR(code))
}

// scanned is the telephones' door where there is one, otherwise the join link.
func scanned(inv Invitation, leader bool) (string, error) {
	if inv.Telephones != "" {
		if leader {
			return inv.Telephones + "#code=" + inv.Code, nil
		}
		return inv.Telephones, nil
	}
	if len(inv.Links) == 0 {
		return "", errNotFound
	}
	link, err := proto.ParseLink(inv.Links[0])
	if err != nil {
		return "", fmt.Errorf("web: invitation: %w", err)
	}
	link.Fingerprint = inv.Fingerprint
	if leader {
		link.Code, link.Hub = inv.Code, inv.Hub
	}
	return link.String(), nil
}

// quiet is the empty border a reader needs around the symbol, in modules
// (ISO/IEC 18004, 4 modules).
const quiet = 4

// drawQR draws the symbol as one path, a run of dark modules at a time. It
// is always dark on light: many readers refuse the inverse.
func drawQR(code *qr.Code) string {
	var path strings.Builder
	for y := range code.Size {
		for x := 0; x < code.Size; x++ {
			run := 0
			for x+run < code.Size && code.Black(x+run, y) {
				run++
			}
			if run > 0 {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", x+quiet, y+quiet, run, run)
				x += run
			}
		}
	}
	n := code.Size + 2*quiet
	return fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" shape-rendering="crispEdges">`+
		`<rect width="%d" height="%d" fill="#fff"/><path d="%s" fill="#000"/></svg>`, n, n, n, n, path.String())
}
