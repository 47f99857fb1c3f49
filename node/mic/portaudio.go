//go:build portaudio

package mic

import (
	"errors"
	"fmt"
	"sync"

	"github.com/gordonklaus/portaudio"

	"bellrow/node/capture"
)

// Native tells whether this build has the native microphone.
const Native = true

// callbackFrames is the length of a callback: 10 ms at 48 kHz. A fixed length
// keeps the ring's slots full; left open, PortAudio sends from 12 frames up.
const callbackFrames = 480

// library serialises the calls into PortAudio that are not about one stream:
// it keeps its device list in unguarded globals.
var library sync.Mutex

// start initialises PortAudio; the caller holds library and calls
// portaudio.Terminate afterwards.
func start() error {
	if err := portaudio.Initialize(); err != nil {
		return fmt.Errorf("mic: PortAudio: %w", err)
	}
	return nil
}

// Devices lists the microphones.
func Devices() ([]Device, error) {
	library.Lock()
	defer library.Unlock()
	hush := quieten(nil)
	defer hush.close()
	if err := start(); err != nil {
		return nil, err
	}
	defer portaudio.Terminate()
	devices, _, err := inputs()
	return devices, err
}

// inputs lists the devices that have input channels, with PortAudio's own
// record of each.
func inputs() ([]Device, map[string]*portaudio.DeviceInfo, error) {
	all, err := portaudio.Devices()
	if err != nil {
		return nil, nil, fmt.Errorf("mic: list devices: %w", err)
	}
	first, err := portaudio.DefaultInputDevice()
	if err != nil {
		first = nil // no default is not an error yet: a name may be given
	}
	var devices []Device
	infos := map[string]*portaudio.DeviceInfo{}
	for _, info := range all {
		if info.MaxInputChannels < 1 {
			continue
		}
		d := Device{
			API: info.HostApi.Name, Name: info.Name, Channels: info.MaxInputChannels,
			Rate: info.DefaultSampleRate, Default: info == first,
		}
		devices = append(devices, d)
		infos[d.String()] = info
	}
	return devices, infos, nil
}

// Open opens a microphone and starts it. It looks for devices afresh unless
// another microphone is open in this process.
func Open(c Config) (capture.Source, error) {
	library.Lock()
	defer library.Unlock()
	hush := quieten(c.Log)
	src, err := open(c, hush)
	if err != nil {
		hush.close()
		return nil, err
	}
	return src, nil
}

func open(c Config, hush *filter) (capture.Source, error) {
	if err := start(); err != nil {
		return nil, err
	}
	ok := false
	defer func() {
		if !ok {
			portaudio.Terminate()
		}
	}()
	devices, infos, err := inputs()
	if err != nil {
		return nil, err
	}
	d, err := choose(devices, c.Device)
	if err != nil {
		return nil, err
	}
	src, err := openDevice(d, infos[d.String()], hush)
	if err != nil {
		return nil, fmt.Errorf("mic: open %s: %w", d, err)
	}
	ok = true
	return src, nil
}

// openDevice tries mono at 48 kHz, then what the device prefers: some have no
// mono mode, some no 48 kHz.
func openDevice(d Device, info *portaudio.DeviceInfo, hush *filter) (capture.Source, error) {
	var first error
	for _, try := range []struct {
		channels int
		rate     float64
	}{{1, WantRate}, {1, d.Rate}, {min(2, d.Channels), WantRate}, {min(2, d.Channels), d.Rate}} {
		src, err := openStream(d, info, try.channels, try.rate, hush)
		if err == nil {
			return src, nil
		}
		if first == nil {
			first = err
		}
	}
	return nil, first
}

func openStream(d Device, info *portaudio.DeviceInfo, channels int, rate float64, hush *filter) (capture.Source, error) {
	ring := capture.NewRing(int(capture.RingSeconds * rate))
	f := newFeed(ring, channels, rate, callbackFrames)
	p := portaudio.StreamParameters{
		Input: portaudio.StreamDeviceParameters{
			// High latency: a reading waits for the hold anyway, and a lost
			// sample costs more than ten milliseconds.
			Device: info, Channels: channels, Latency: info.DefaultHighInputLatency,
		},
		SampleRate:      rate,
		FramesPerBuffer: callbackFrames,
		Flags:           portaudio.ClipOff | portaudio.DitherOff,
	}
	s, err := portaudio.OpenStream(p, func(in []float32, t portaudio.StreamCallbackTimeInfo, flags portaudio.StreamCallbackFlags) {
		f.put(in, t.InputBufferAdcTime, flags&portaudio.InputOverflow != 0)
	})
	if err != nil {
		return nil, err
	}
	if got := s.Info().SampleRate; got > 0 {
		rate, f.rate = got, got // before the first callback
	}
	if err := s.Start(); err != nil {
		s.Close()
		return nil, err
	}
	open := &device{stream: s, hush: hush}
	return capture.Watch(capture.Info{Rate: rate, Name: d.String()}, ring, open.release), nil
}

// device is an open PortAudio stream with what must be undone after it.
type device struct {
	stream *portaudio.Stream
	hush   *filter
}

// release ends the callbacks, none runs once Abort has returned, and gives the
// device back.
func (d *device) release() error {
	library.Lock()
	defer library.Unlock()
	defer d.hush.close()
	return errors.Join(d.stream.Abort(), d.stream.Close(), portaudio.Terminate())
}
