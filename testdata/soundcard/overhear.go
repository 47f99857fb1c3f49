package soundcard

import (
	"bufio"
	"encoding/binary"
	"io"
	"os/exec"
	"time"
)

// Overheard is the sample rate at which Overhear listens.
const Overheard = 48000

// overhearFrame is how many samples Overhear looks at at a time: 2.5 ms, so
// that the time of a sample is known to a fraction of what matters.
const overhearFrame = 120

// Overhear listens to the room beside the microphone, as an independent
// witness of when something sounded: heard is called, in another goroutine,
// with each run of samples in [-1, 1] and the moment at which its last one
// arrived here. It ends with the test.
func (c *Card) Overhear(heard func(samples []float64, at time.Time)) {
	c.t.Helper()
	cmd := exec.Command("parec", "--device=room.monitor", "--latency-msec=5",
		"--rate=48000", "--channels=1", "--format=s16le", "--raw")
	out, err := cmd.StdoutPipe()
	if err == nil {
		err = cmd.Start()
	}
	if err != nil {
		c.t.Fatal(err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		listenTo(bufio.NewReader(out), heard)
	}()
	c.t.Cleanup(func() { end(cmd); <-done })
}

// listenTo hands on the sound of r until it ends.
func listenTo(r io.Reader, heard func(samples []float64, at time.Time)) {
	raw := make([]byte, 2*overhearFrame)
	samples := make([]float64, overhearFrame)
	for {
		if _, err := io.ReadFull(r, raw); err != nil {
			return
		}
		at := time.Now()
		for i := range samples {
			samples[i] = float64(int16(binary.LittleEndian.Uint16(raw[2*i:]))) / (1 << 15)
		}
		heard(samples, at)
	}
}
