package estimate

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"

	"gonum.org/v1/gonum/dsp/fourier"

	"bellrow/node/capture"
)

// What lies between a microphone and the node: programs that clean speech,
// codecs of calls, low rates, overload, broken plugs.

// channel changes a recording at 48 kHz. It returns the source that a node
// would open. An error that is errNoCodec leaves the channel out.
type channel struct {
	name string
	pass func(ctx context.Context, x []float64, random *rand.Rand) (capture.Source, error)
}

// errNoCodec says that a program is missing.
var errNoCodec = errors.New("not installed")

var channels = []channel{
	{"no channel", changed(func(x []float64, _ *rand.Rand) []float64 { return x })},
	{"spectral gate", changed(func(x []float64, _ *rand.Rand) []float64 { return suppressed(x, gateOf(x)) })},
	{"suppressor that eats held notes", changed(func(x []float64, _ *rand.Rand) []float64 { return suppressed(x, &eater{}) })},
	{"suppressor by the least of 1.2 s", changed(func(x []float64, _ *rand.Rand) []float64 { return suppressed(x, &minimum{}) })},
	{"WebRTC's suppressor, moderate", webRTC("moderate")},
	{"WebRTC's suppressor, very high", webRTC("very-high")},
	{"MP3 64 kb/s", codec("mp3", "64")},
	{"MP3 32 kb/s", codec("mp3", "32")},
	{"Opus 24 kb/s", codec("opus", "24")},
	{"Opus 12 kb/s", codec("opus", "12")},
	{"16 kHz", slower(3)},
	{"8 kHz", slower(6)},
	{"clipped by 6 dB", changed(func(x []float64, _ *rand.Rand) []float64 { return driven(x, 6) })},
	{"clipped by 20 dB", changed(func(x []float64, _ *rand.Rand) []float64 { return driven(x, 20) })},
	{"one channel dead", twoChannels(0)},
	{"one channel inverted", twoChannels(-1)},
	{"hum at -10 dB", changed(func(x []float64, r *rand.Rand) []float64 { hum(x, -10, r); return x })},
	{"-50 dBFS over noise at -60", changed(faint)},
	{"10 ms lost every 0.37 s", changed(holed)},
}

func changed(change func([]float64, *rand.Rand) []float64) func(context.Context, []float64, *rand.Rand) (capture.Source, error) {
	return func(_ context.Context, x []float64, r *rand.Rand) (capture.Source, error) {
		return capture.Slice(change(x, r), rate), nil
	}
}

// driven is x, clips db beyond full scale.
func driven(x []float64, db float64) []float64 {
	peak := 0.0
	for _, v := range x {
		peak = max(peak, math.Abs(v))
	}
	gain := math.Pow(10, db/20) / peak
	for i, v := range x {
		x[i] = max(-1, min(1, gain*v))
	}
	return x
}

// faint turns x down to -50 dBFS and adds white noise at -60.
func faint(x []float64, r *rand.Rand) []float64 {
	level := math.Sqrt(loudPower(x))
	scale(x, math.Pow(10, -50.0/20)/math.Sqrt2/level)
	for i := range x {
		x[i] += math.Pow(10, -60.0/20) / math.Sqrt2 * r.NormFloat64()
	}
	return x
}

// loudPower is the mean square of the tenths of a second within 20 dB of the
// loudest.
func loudPower(x []float64) float64 {
	var all []float64
	for at := 0; at+rate/10 <= len(x); at += rate / 10 {
		p := rms(x[at : at+rate/10])
		all = append(all, p*p)
	}
	most, sum, n := quantile(all, 1), 0.0, 0.0
	for _, p := range all {
		if p > most/100 {
			sum, n = sum+p, n+1
		}
	}
	return sum / max(1, n)
}

// holed loses 10 ms every 0.37 s and closes the gap, as a driver without
// counts does.
func holed(x []float64, _ *rand.Rand) []float64 {
	var out []float64
	for at := 0; at < len(x); at += rate * 37 / 100 {
		end := min(len(x), at+rate*37/100)
		out = append(out, x[at:max(at, end-rate/100)]...)
	}
	return out
}

// slower keeps every n-th sample of x below the new half rate.
func slower(n int) func(context.Context, []float64, *rand.Rand) (capture.Source, error) {
	return func(_ context.Context, x []float64, _ *rand.Rand) (capture.Source, error) {
		const side = 40 // in samples of the low rate
		out := make([]float64, len(x)/n)
		for i := range out {
			for j := -side * n; j <= side*n; j++ {
				if at := i*n + j; at >= 0 && at < len(x) {
					u := float64(j) / float64(n)
					w := 0.5 + 0.5*math.Cos(math.Pi*u/side)
					out[i] += x[at] * w * sincOf(0.92*u) * 0.92 / float64(n)
				}
			}
		}
		return capture.Slice(out, rate/float64(n)), nil
	}
}

func sincOf(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// twoChannels makes a stereo file as of a laptop's two microphones, whose
// second channel is the first times other, 8 cm later and with a little noise
// of its own, and opens it as the node does.
func twoChannels(other float64) func(context.Context, []float64, *rand.Rand) (capture.Source, error) {
	return func(_ context.Context, x []float64, r *rand.Rand) (capture.Source, error) {
		data := make([]byte, 0, 4*len(x))
		sample := func(v float64) {
			data = binary.LittleEndian.AppendUint16(data, uint16(int16(math.Round(32767*max(-1, min(1, v))))))
		}
		const apart = rate * 8 / 34300
		for i, v := range x {
			sample(v)
			sample(0.9*other*x[max(0, i-apart)] + 1e-4*r.NormFloat64())
		}
		file := stereoWAV(data)
		dir, err := os.MkdirTemp("", "bellrow-channel-")
		if err != nil {
			return nil, err
		}
		defer os.RemoveAll(dir)
		path := filepath.Join(dir, "stereo.wav")
		if err := os.WriteFile(path, file, 0o600); err != nil {
			return nil, err
		}
		y, err := readSound(context.Background(), path)
		return capture.Slice(y, rate), err
	}
}

// stereoWAV puts a header before 16 bit frames of two channels (RIFF WAVE,
// Microsoft and IBM 1991).
func stereoWAV(data []byte) []byte {
	le := binary.LittleEndian
	head := le.AppendUint32([]byte("RIFF"), uint32(36+len(data)))
	head = le.AppendUint32(append(head, "WAVEfmt "...), 16)
	for _, v := range []uint16{1, 2} {
		head = le.AppendUint16(head, v)
	}
	head = le.AppendUint32(le.AppendUint32(head, rate), 4*rate)
	head = le.AppendUint16(le.AppendUint16(head, 4), 16)
	return append(le.AppendUint32(append(head, "data"...), uint32(len(data))), data...)
}

// codec sends x through a lossy codec and back, with lame or opus-tools.
func codec(kind, kbps string) func(context.Context, []float64, *rand.Rand) (capture.Source, error) {
	return func(ctx context.Context, x []float64, _ *rand.Rand) (capture.Source, error) {
		dir, err := os.MkdirTemp("", "bellrow-codec-")
		if err != nil {
			return nil, err
		}
		defer os.RemoveAll(dir)
		in, coded, back := filepath.Join(dir, "in.wav"), filepath.Join(dir, "coded."+kind), filepath.Join(dir, "back.wav")
		if err := writeWAV(in, x); err != nil {
			return nil, err
		}
		commands := [][]string{{"lame", "--quiet", "-m", "m", "-b", kbps, in, coded}, {"lame", "--quiet", "--decode", coded, back}}
		if kind == "opus" {
			commands = [][]string{{"opusenc", "--quiet", "--bitrate", kbps, in, coded}, {"opusdec", "--quiet", "--rate", fmt.Sprint(rate), coded, back}}
		}
		for _, c := range commands {
			if _, err := exec.LookPath(c[0]); err != nil {
				return nil, fmt.Errorf("%s: %w", c[0], errNoCodec)
			}
			if out, err := exec.CommandContext(ctx, c[0], c[1:]...).CombinedOutput(); err != nil {
				return nil, fmt.Errorf("accuracy: %s: %w: %s", c[0], err, out)
			}
		}
		src, err := capture.Open(back)
		if err != nil {
			return nil, err
		}
		hz := src.Info().Rate // a codec may choose a lower one
		src.Close()
		y, err := readSound(ctx, back)
		return capture.Slice(y, hz), err
	}
}

// webRTC sends x through the noise suppressor of calls in a browser, as GStreamer's
// plugin webrtcdsp has it.
func webRTC(level string) func(context.Context, []float64, *rand.Rand) (capture.Source, error) {
	return func(ctx context.Context, x []float64, _ *rand.Rand) (capture.Source, error) {
		const program = "gst-launch-1.0"
		if _, err := exec.LookPath(program); err != nil {
			return nil, fmt.Errorf("%s: %w", program, errNoCodec)
		}
		if exec.CommandContext(ctx, "gst-inspect-1.0", "webrtcdsp").Run() != nil {
			return nil, fmt.Errorf("webrtcdsp of GStreamer: %w", errNoCodec)
		}
		dir, err := os.MkdirTemp("", "bellrow-suppressor-")
		if err != nil {
			return nil, err
		}
		defer os.RemoveAll(dir)
		in, out := filepath.Join(dir, "in.wav"), filepath.Join(dir, "out.wav")
		if err := writeWAV(in, x); err != nil {
			return nil, err
		}
		args := []string{"-q", "filesrc", "location=" + in, "!", "wavparse", "!", "audioconvert", "!", "audio/x-raw,format=S16LE,rate=48000,channels=1", "!",
			"webrtcdsp", "echo-cancel=false", "gain-control=false", "high-pass-filter=false", "limiter=false", "voice-detection=false",
			"noise-suppression=true", "noise-suppression-level=" + level, "!", "wavenc", "!", "filesink", "location=" + out}
		if said, err := exec.CommandContext(ctx, program, args...).CombinedOutput(); err != nil {
			return nil, fmt.Errorf("accuracy: %s: %w: %s", program, err, said)
		}
		y, err := readSound(ctx, out)
		return capture.Slice(y, rate), err
	}
}

// A suppressor gives each bin of a spectrum its gain.
type suppressor interface {
	gains(spectrum []complex128, gain []float64)
}

// suppressed passes x through s: Hann windows of 21 ms that overlap by three
// quarters.
func suppressed(x []float64, s suppressor) []float64 {
	const size, hop = 1024, 256
	fft := fourier.NewFFT(size)
	out := make([]float64, len(x))
	frame, gain := make([]float64, size), make([]float64, size/2+1)
	for at := -size + hop; at < len(x); at += hop {
		for i := range frame {
			frame[i] = 0
			if j := at + i; j >= 0 && j < len(x) {
				frame[i] = x[j] * hann(i, size)
			}
		}
		z := fft.Coefficients(nil, frame)
		s.gains(z, gain)
		for k := range z {
			z[k] *= complex(gain[k], 0)
		}
		for i, v := range fft.Sequence(nil, z) {
			if j := at + i; j >= 0 && j < len(x) {
				out[j] += v / size * hann(i, size) / 1.5 // the squares of the windows add up to 1.5
			}
		}
	}
	return out
}

func hann(i, size int) float64 { return 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(size)) }

// gate lets through what stands above the noise it was shown.
type gate struct{ threshold, last []float64 }

// gateOf learns the noise from the first half second of x: twice its mean.
func gateOf(x []float64) *gate {
	const size, hop = 1024, 256
	fft := fourier.NewFFT(size)
	g := &gate{threshold: make([]float64, size/2+1), last: make([]float64, size/2+1)}
	frame, frames := make([]float64, size), 0.0
	for at := 0; at+size < rate/2; at += hop {
		for i := range frame {
			frame[i] = x[at+i] * hann(i, size)
		}
		for k, z := range fft.Coefficients(nil, frame) {
			g.threshold[k] += 2 * cmplx.Abs(z)
		}
		frames++
	}
	scale(g.threshold, 1/frames)
	return g
}

func (g *gate) gains(z []complex128, gain []float64) {
	for k := range z {
		want := 0.1
		if cmplx.Abs(z[k]) > g.threshold[k] {
			want = 1
		}
		g.last[k] += 0.5 * (want - g.last[k])
		gain[k] = g.last[k]
	}
}

// eater takes whatever stays for noise: its estimate of the noise creeps up to
// the spectrum by 32 dB a second and falls at once, and what lies near it goes.
type eater struct{ noise []float64 }

func (e *eater) gains(z []complex128, gain []float64) {
	if e.noise == nil {
		e.noise = make([]float64, len(z))
	}
	const rise = 1.02 // by hop of 5.3 ms
	for k := range z {
		a := cmplx.Abs(z[k])
		e.noise[k] = min(a, max(rise*e.noise[k], 1e-4))
		gain[k] = max(0.03, 1-2*e.noise[k]/(a+1e-12))
	}
}

// minimum takes the least of the last minimumHops of each bin's smoothed power for noise, as
// minimum statistics do (Martin 2001, IEEE Trans. Speech Audio Process. 9:504).
type minimum struct {
	smooth []float64
	past   [][]float64
}

const minimumHops = 225 // 1.2 s

func (m *minimum) gains(z []complex128, gain []float64) {
	if m.smooth == nil {
		m.smooth = make([]float64, len(z))
	}
	for k := range z {
		m.smooth[k] += 0.2 * (real(z[k])*real(z[k]) + imag(z[k])*imag(z[k]) - m.smooth[k])
	}
	if m.past = append(m.past, append([]float64(nil), m.smooth...)); len(m.past) > minimumHops {
		m.past = m.past[1:]
	}
	for k := range z {
		least := m.smooth[k]
		for _, p := range m.past {
			least = min(least, p[k])
		}
		if len(m.past) < minimumHops {
			least = 0 // not known yet
		}
		gain[k] = max(0.1, 1-2*least/(m.smooth[k]+1e-20))
	}
}
