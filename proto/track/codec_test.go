package track

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"bellrow/proto/pitch"
)

// halfStep is how far a coded value may lie from the true one, in steps: half
// of one, and a little for the scale's own rounding.
const halfStep = 0.5 + 1e-9

func TestPackRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, size := range []float64{1e-9, 1e-3, 0.7, 1, 3.9} {
		frames := make([]complex128, 50)
		for i := range frames {
			frames[i] = complex(size*(2*rng.Float64()-1), size*(2*rng.Float64()-1))
		}
		b, scale := Pack(nil, frames)
		p := Partial{K: 1, Step: 100, Scale: scale, Frames: b}
		if p.Len() != len(frames) {
			t.Fatalf("size %g: %d frames, want %d", size, p.Len(), len(frames))
		}
		for i, z := range p.Unpack(nil) {
			if d := math.Max(math.Abs(real(z-frames[i])), math.Abs(imag(z-frames[i]))) / scale; d > halfStep {
				t.Errorf("size %g: frame %d is off by %.3f steps", size, i, d)
			}
		}
		if scale < size/127*0.9 || scale > size/127*1.01 {
			t.Errorf("size %g: scale %g does not use the range of a byte", size, scale)
		}
		if s := strconv.FormatFloat(scale, 'g', -1, 64); len(s) > 10 {
			t.Errorf("size %g: scale %s is long on the wire", size, s)
		}
	}
}

func TestPackExtremes(t *testing.T) {
	if b, scale := Pack(nil, []complex128{0, 0}); scale != 1 || string(b) != "\x00\x00\x00\x00" {
		t.Errorf("silence packs to % x, scale %g", b, scale)
	}
	b, scale := Pack(nil, []complex128{complex(1, -1)})
	if int8(b[0]) != 127 || int8(b[1]) != -127 {
		t.Errorf("full range packs to %d, %d at scale %g", int8(b[0]), int8(b[1]), scale)
	}
}

// good is a chunk that passes.
func good() Chunk {
	return Chunk{
		Reference: 116.54, First: 24000, Rate: 48000, Floor: -70, Level: -25,
		Partials: []Partial{
			{K: 2, Step: 1200, Scale: 0.001, Frames: make([]byte, 20)},
			{K: 5, Step: 600, Scale: 0.002, Frames: make([]byte, 40)},
		},
	}
}

func TestValidate(t *testing.T) {
	c := good()
	if err := c.Validate(); err != nil {
		t.Fatalf("good chunk: %v", err)
	}
	if c.Samples() != 12000 {
		t.Errorf("covers %d samples, want 12000", c.Samples())
	}
	if c.Find(5) == nil || c.Find(3) != nil {
		t.Error("Find must find partial 5 and no partial 3")
	}
	for name, tt := range map[string]struct {
		change func(*Chunk)
		want   error
	}{
		"reference NaN":      {func(c *Chunk) { c.Reference = pitch.Hertz(math.NaN()) }, ErrLimit},
		"reference too low":  {func(c *Chunk) { c.Reference = 1 }, ErrLimit},
		"rate infinite":      {func(c *Chunk) { c.Rate = math.Inf(1) }, ErrLimit},
		"first negative":     {func(c *Chunk) { c.First = -1 }, ErrLimit},
		"first beyond float": {func(c *Chunk) { c.First = math.MaxInt64 }, ErrLimit},
		"level NaN":          {func(c *Chunk) { c.Level = pitch.Level(math.NaN()) }, ErrLimit},
		"k zero":             {func(c *Chunk) { c.Partials[0].K = 0 }, ErrLimit},
		"k above Nyquist":    {func(c *Chunk) { c.Partials[1].K = 300 }, ErrLimit},
		"step zero":          {func(c *Chunk) { c.Partials[0].Step = 0 }, ErrLimit},
		"step huge":          {func(c *Chunk) { c.Partials[0].Step = math.MaxInt }, ErrLimit},
		"scale zero":         {func(c *Chunk) { c.Partials[0].Scale = 0 }, ErrLimit},
		"scale NaN":          {func(c *Chunk) { c.Partials[0].Scale = math.NaN() }, ErrLimit},
		"scale infinite":     {func(c *Chunk) { c.Partials[0].Scale = math.Inf(1) }, ErrLimit},
		"odd bytes":          {func(c *Chunk) { c.Partials[0].Frames = make([]byte, 3) }, ErrLimit},
		"no frames":          {func(c *Chunk) { c.Partials[0].Frames = nil }, ErrLimit},
		"too many frames":    {func(c *Chunk) { c.Partials[0].Frames = make([]byte, 2*MaxFrames+2) }, ErrLimit},
		"too many partials":  {func(c *Chunk) { c.Partials = make([]Partial, MaxPartials+1) }, ErrLimit},
		"too long":           {func(c *Chunk) { c.Partials = c.Partials[:1]; c.Partials[0].Step = 96000 }, ErrLimit},
		"order":              {func(c *Chunk) { c.Partials[1].K = 2 }, ErrShape},
		"unequal lengths":    {func(c *Chunk) { c.Partials[1].Step = 601 }, ErrShape},
	} {
		t.Run(name, func(t *testing.T) {
			c := good()
			tt.change(&c)
			if err := c.Validate(); !errors.Is(err, tt.want) || !strings.HasPrefix(err.Error(), "track: ") {
				t.Errorf("got %v, want %v with the package's name", err, tt.want)
			}
		})
	}
}

// FuzzChunk: whatever a peer sends, decoding and checking neither panics nor
// lets anything through that is not finite and bounded, and what passes comes
// out the same a second time.
func FuzzChunk(f *testing.F) {
	c := good()
	b, err := json.Marshal(c)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add([]byte(`{"ref":1e308,"partials":[{"k":1,"step":1,"scale":1e-320,"frames":"AAA="}]}`))
	f.Add([]byte(`{"ref":440,"rate":48000,"partials":null}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		var c Chunk
		if json.Unmarshal(b, &c) != nil || c.Validate() != nil {
			return
		}
		for i := range c.Partials {
			for _, z := range c.Partials[i].Unpack(nil) {
				if !(math.Abs(real(z)) <= 128*MaxScale && math.Abs(imag(z)) <= 128*MaxScale) {
					t.Fatalf("frame %v passed", z)
				}
			}
		}
		again, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		var d Chunk
		if err := json.Unmarshal(again, &d); err != nil || d.Validate() != nil {
			t.Fatalf("valid chunk does not survive the wire: %v", err)
		}
	})
}
