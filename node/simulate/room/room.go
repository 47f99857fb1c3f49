package room

import (
	"fmt"
)

// Stream is a player: Read fills dst with the next samples at the room's rate
// and never ends (silence is zeros).
type Stream interface {
	Read(dst []float64)
}

// Mode chooses how much of the room is computed.
type Mode int

// Modes.
const (
	Full Mode = iota // image sources and an own tail for each pair
	Live             // direct sound, delays, one shared short tail
)

// Mic is what makes one microphone differ from another. The zero value is a
// perfect one.
type Mic struct {
	HighPass float64 // corner of a second-order high-pass in Hz; 0 = none
	GainDB   float64 // sensitivity
	PPM      float64 // how much faster than nominal its sample clock runs
	Start    float64 // when its sample 0 is taken, seconds after the room begins, ≥ 0
	Noise    float64 // RMS of its own noise, full scale 1
	AGC      bool    // slow automatic gain towards −20 dBFS, within ±6 dB
}

// Config describes a room with its chairs.
type Config struct {
	Rate  float64 // nominal samples per second
	Size  Point   // inner dimensions; zero = 9 × 12 × 4 m
	RT60  float64 // reverberation time in seconds; 0 = no reflections at all
	Mode  Mode
	Seats []Seat
	Mics  []Mic // one for each seat, or empty for perfect ones
	// LevelDB scales everything: the level of a player at one metre is that
	// of its stream plus LevelDB.
	LevelDB float64
	Seed    uint64
}

// Room computes what every microphone hears.
type Room struct {
	cfg     Config
	players []Stream
	mics    []microphone
	path    paths
	in      [][]float64 // one block of each player
	wet     [][]float64 // the same block at each microphone
}

// block is how many samples the live room computes at once: 11 ms at 48 kHz.
const block = 512

// New checks the configuration. There is one player for each seat; a nil
// player is an empty chair.
func New(cfg Config, players []Stream) (*Room, error) {
	if cfg.Size == (Point{}) {
		cfg.Size = Point{9, 12, 4}
	}
	if !(cfg.Rate >= 8000 && cfg.Rate <= 192000) {
		return nil, fmt.Errorf("room: rate %g Hz, need 8000 to 192000", cfg.Rate)
	}
	if len(players) != len(cfg.Seats) || len(players) == 0 {
		return nil, fmt.Errorf("room: %d players on %d seats", len(players), len(cfg.Seats))
	}
	if len(cfg.Mics) == 0 {
		cfg.Mics = make([]Mic, len(cfg.Seats))
	}
	if len(cfg.Mics) != len(cfg.Seats) {
		return nil, fmt.Errorf("room: %d microphones on %d seats", len(cfg.Mics), len(cfg.Seats))
	}
	if !(cfg.RT60 >= 0 && cfg.RT60 <= 10) {
		return nil, fmt.Errorf("room: RT60 %g s, need 0 to 10", cfg.RT60)
	}
	for i, s := range cfg.Seats {
		if !inside(s.Bell, cfg.Size) || !inside(s.Mic, cfg.Size) {
			return nil, fmt.Errorf("room: seat %d is not inside %g × %g × %g m", i, cfg.Size.X, cfg.Size.Y, cfg.Size.Z)
		}
	}
	r := &Room{cfg: cfg, players: players}
	size := block
	if cfg.Mode == Full {
		size = fullBlock
	}
	for i := range cfg.Seats {
		r.mics = append(r.mics, newMicrophone(cfg, i))
		r.in = append(r.in, make([]float64, size))
		r.wet = append(r.wet, make([]float64, size))
	}
	if cfg.Mode == Live {
		r.path = newLive(cfg)
	} else {
		r.path = newConvolver(cfg)
	}
	return r, nil
}

func inside(p, size Point) bool {
	return p.X > 0 && p.Y > 0 && p.Z > 0 && p.X < size.X && p.Y < size.Y && p.Z < size.Z
}

// paths carries one block from all players to all microphones, adding.
type paths interface {
	carry(in, out [][]float64)
}

// Read fills dst[i] with the next samples of microphone i, by that
// microphone's own clock. Lengths may differ.
func (r *Room) Read(dst [][]float64) {
	for i := range dst {
		for n := 0; n < len(dst[i]); {
			n += r.mics[i].take(dst[i][n:])
			if n < len(dst[i]) {
				r.step()
			}
		}
	}
}

// step computes one more block for all microphones.
func (r *Room) step() {
	for i, p := range r.players {
		clear(r.in[i])
		if p != nil {
			p.Read(r.in[i])
		}
		clear(r.wet[i])
	}
	r.path.carry(r.in, r.wet)
	for i := range r.mics {
		r.mics[i].feed(r.wet[i])
	}
}

// Config returns the configuration with defaults filled in.
func (r *Room) Config() Config { return r.cfg }
