package listen

import (
	"math"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// TestEaten: a note that is held through a suppressor is told from what players do.
// The suppressor is as that of WebRTC was measured (element webrtcdsp of GStreamer 1.22,
// recorded notes 30 dB above a room): note and room fall by 12 dB at its moderate and by
// 20 dB at its highest setting, one to two seconds into the note, within a quarter of a second.
func TestEaten(t *testing.T) {
	const roomBefore = 7 // seconds, until its level is known
	note := func(level pitch.Level) sound {
		p, err := tone.New(tone.Config{Rate: testRate, F0: 233.08, Level: level, Seed: 3, Voice: tone.Trombone, Duration: 3.2})
		if err != nil {
			t.Fatal(err)
		}
		x := make(sound, 4*testRate)
		return x[:p.Read(x)]
	}
	// down turns x down by so many dB between two moments.
	down := func(x sound, db, from, to float64) sound {
		y := make(sound, len(x))
		for i, v := range x {
			u := max(0, min(1, (float64(i)/testRate-from)/(to-from)))
			y[i] = v * math.Pow(10, -db*u/20)
		}
		return y
	}
	room := func(x sound, level pitch.Level) sound {
		x = join(silence(roomBefore), x, silence(1))
		return under(x, hiss(float64(len(x))/testRate, level, 5))
	}
	back := func(x sound, db float64) sound { // the room after the note is as low as before
		for i := range roomBefore * testRate {
			x[i] *= math.Pow(10, -db/20)
		}
		return x
	}
	tests := []struct {
		name  string
		sound sound
		eaten bool
	}{
		{"moderate suppressor", back(down(room(note(-24), -56), 12, roomBefore+1.2, roomBefore+1.45), 12), true},
		{"highest suppressor", back(down(room(note(-24), -56), 20, roomBefore+1.2, roomBefore+1.45), 20), true},
		{"held", room(note(-24), -56), false},
		{"held in a room without a sound", join(silence(0.8), note(-24), silence(1)), false},
		{"diminuendo of 10 dB", room(down(note(-24), 10, 0.3, 3), -56), false},
		{"diminuendo of 20 dB", room(down(note(-24), 20, 0.3, 3), -56), false},
		{"diminuendo to nothing", room(down(note(-24), 30, 0.3, 2.5), -56), false},
		{"diminuendo, then held", room(down(note(-24), 10, 0.5, 1.7), -56), false},
		{"forte-piano, nearer to the room", room(down(note(-24), 15, 1, 1.2), -52), false},
		{"crescendo", room(down(note(-24), -15, 0.3, 3), -56), false},
		{"a softer note after it", room(join(note(-24), silence(0.3), note(-39)), -56), false},
	}
	for _, c := range tests {
		l := newListener(t)
		eaten := false
		for _, e := range append(append([]Event(nil), l.Write(c.sound)...), l.Flush()...) {
			eaten = eaten || e.Eaten
		}
		if eaten != c.eaten {
			t.Errorf("%s: eaten %v, want %v", c.name, eaten, c.eaten)
		}
	}
}
