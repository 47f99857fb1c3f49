package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"strconv"
	"strings"

	"rsc.io/qr"

	"bellrow/proto"
)

func runHub(ctx context.Context, e env, args []string) error {
	c := stationConfig{announce: true}
	fs := flagSet(e, "hub", "[--listen HOST:PORT] [--data DIR] [--name SECTION]\n\nStarts the hub on the leader's laptop. Stop it with Ctrl-C.")
	fs.StringVar(&c.listen, "listen", ":"+strconv.Itoa(proto.DefaultPort), "where to listen, `HOST:PORT`")
	fs.StringVar(&c.data, "data", defaultData(), "data `folder`")
	fs.StringVar(&c.section, "name", "", "`section` to open, made when there is none of that name")
	fs.StringVar(&c.assets, "assets", "", "serve pages from this `folder` while editing them")
	fs.BoolVar(&c.security.own, "tls", false, "encrypt with a key of the hub's own, which players' laptops pin by the link; browsers will warn")
	fs.StringVar(&c.security.cert, "cert", "", "encrypt with this certificate `file` (PEM) and --key")
	fs.StringVar(&c.security.key, "key", "", "private key `file` of --cert")
	phonesAt := fs.String("phones", "", "let telephones take part: serve their page encrypted at this `HOST:PORT`, such as :7443; browsers will warn")
	quiet := fs.Bool("no-announce", false, "do not announce the hub by multicast DNS")
	verbose := fs.Bool("verbose", false, "log details to stderr")
	if err := parse(fs, args); err != nil {
		return err
	}
	c.announce = !*quiet
	c.log = logger(e.stderr, *verbose)
	s, err := openStation(ctx, c)
	if err != nil {
		return err
	}
	s.welcome(e.stdout)
	if *phonesAt != "" {
		closed, err := s.servePhones(ctx, e.stdout, *phonesAt, c.data)
		if err != nil {
			s.close()
			return err
		}
		defer closed()
	}
	if c.data == "" {
		fmt.Fprintln(e.stdout, "  nothing is kept: there is no data folder")
	}
	return s.run(ctx)
}

// logger logs warnings, and details with verbose.
func logger(w io.Writer, verbose bool) *slog.Logger {
	level := slog.LevelWarn
	if verbose {
		level = slog.LevelDebug
	}
	return slog.New(slog.NewTextHandler(w, &slog.HandlerOptions{Level: level}))
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
