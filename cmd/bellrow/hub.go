package main

import (
	"cmp"
	"fmt"
	"io"
	"net"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"rsc.io/qr"

	"bellrow/cmd/bellrow/plain"
	"bellrow/proto"
)

func hubCommand(e env) *cobra.Command {
	s := stationConfig{}
	var phonesAt string
	var noPhones, quiet, verbose bool
	c := &cobra.Command{
		Use: "hub", Short: "the hub on the leader's laptop",
		Long: "Starts the hub on the leader's laptop. Stop it with Ctrl-C.",
		Example: `bellrow hub --name "Tidemill Lane Brass"
bellrow hub --phones :8443`,
		Args: noWords("a section is given with --name SECTION"),
	}
	addressFlag(c, &s.listen, "listen", ":"+strconv.Itoa(proto.DefaultPort), "where to listen, `HOST:PORT`")
	dataFlag(c, &s.data)
	text(c, &s.section, "name", "", "`SECTION` to open, made when there is none of that name")
	text(c, &s.assets, "assets", "", "serve pages from this `FOLDER` while editing them")
	flag(c, &s.security.own, "tls", "encrypt with a key of the hub's own, which players' laptops pin by the link; browsers will warn")
	text(c, &s.security.cert, "cert", "", "encrypt with this certificate `FILE` (PEM) and --key")
	text(c, &s.security.key, "key", "", "private key `FILE` of --cert")
	addressFlag(c, &phonesAt, "phones", "", "telephones and tablets take part encrypted at this `HOST:PORT`; without it at port 7443 beside --listen, where that is free; browsers will warn")
	flag(c, &noPhones, "no-phones", "telephones and tablets can only watch")
	flag(c, &quiet, "no-announce", "do not announce the hub by multicast DNS")
	logFlag(c, &verbose)
	c.RunE = func(c *cobra.Command, _ []string) error {
		frugal()
		if err := first(oneOf(c, "tls", "cert"), oneOf(c, "phones", "no-phones"), needs(c, "key", "cert"), needs(c, "cert", "key"), folderGiven(c, "data", &s.data, "hub"), presets(c, "name", &s.section, sectionOf), checkName("section's name", s.section)); err != nil {
			return err
		}
		s.announce, s.log = !quiet, logger(e, verbose)
		ctx := c.Context()
		st, err := openStation(ctx, s)
		if err != nil {
			return err
		}
		st.welcome(e.stdout)
		if !noPhones {
			closed, err := st.servePhones(ctx, e.stdout, cmp.Or(phonesAt, usualPhones(s.listen)), s.data)
			switch {
			case err == nil:
				defer closed()
			case phonesAt != "":
				st.close()
				return err
			default:
				fmt.Fprintf(e.stdout, "  telephones can only watch: %s\n", plain.Words(err))
			}
		}
		if s.data == "" {
			fmt.Fprintln(e.stdout, "  nothing is kept: there is no data folder")
		}
		return st.run(ctx)
	}
	return c
}

// usualPhones is where telephones take part unless something else is said: at
// the usual port of the interface at which the hub listens.
func usualPhones(listen string) string {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		host = ""
	}
	return net.JoinHostPort(host, "7443")
}

// welcome tells the leader where everything is.
func (s *station) welcome(w io.Writer) {
	link := s.playersLink()
	fmt.Fprintf(w, "%s is open.\n\n", s.hub.Section().Name)
	fmt.Fprintf(w, "  leader     %s\n", s.leaderLink())
	fmt.Fprintf(w, "  players    %s\n", link)
	fmt.Fprintf(w, "  join code  %s\n", s.guard.JoinCode())
	fmt.Fprintf(w, "  wall       %s://%s/wall\n\n", s.scheme(), link.Address)
	if code, err := qr.Encode(link.String(), qr.L); err == nil {
		drawQR(w, code)
	}
	fmt.Fprintf(w, "\nOn each player's laptop: bellrow node --chair NAME --instrument ID --join %s\n", s.guard.JoinCode())
}

// quietZone is the empty border of a QR code, in modules (ISO/IEC 18004, 5.3.8).
const quietZone = 4

// drawQR draws the code with half blocks, two rows a line, light on dark
// terminals and dark on light ones alike: most readers take either.
func drawQR(w io.Writer, c *qr.Code) {
	light := func(x, y int) bool { return !c.Black(x, y) }
	for y := -quietZone; y < c.Size+quietZone; y += 2 {
		var line strings.Builder
		for x := -quietZone; x < c.Size+quietZone; x++ {
			switch up, down := light(x, y), light(x, y+1); {
			case up && down:
				line.WriteRune('█')
			case up:
				line.WriteRune('▀')
			case down:
				line.WriteRune('▄')
			default:
				line.WriteRune(' ')
			}
		}
		fmt.Fprintln(w, line.String())
	}
}
