package capture

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
)

// WriteWAV writes mono samples as a 24 bit PCM WAV file, for tools and tests:
// every player opens it, and rounding stays near -146 dBFS. Samples beyond
// full scale are held there; one that is not a number is an error, and so is
// a rate that is not a whole number of Hz.
func WriteWAV(w io.Writer, samples []float64, rate float64) error {
	const bytes = 3
	size := int64(len(samples)) * bytes
	switch {
	case rate != math.Trunc(rate) || rate < MinRate || rate > MaxRate:
		return fmt.Errorf("capture: WAV rate %g Hz, need a whole number from %d to %d", rate, MinRate, MaxRate)
	case size >= openBytes:
		return fmt.Errorf("capture: %d samples do not fit a WAV file", len(samples))
	}
	head := []byte("RIFF")
	le := binary.LittleEndian
	head = le.AppendUint32(head, uint32(36+size+size&1))
	head = append(head, "WAVEfmt "...)
	head = le.AppendUint32(head, 16)
	head = le.AppendUint16(head, tagPCM)
	head = le.AppendUint16(head, 1)
	head = le.AppendUint32(head, uint32(rate))
	head = le.AppendUint32(head, uint32(rate)*bytes)
	head = le.AppendUint16(head, bytes)
	head = le.AppendUint16(head, 8*bytes)
	head = append(head, "data"...)
	head = le.AppendUint32(head, uint32(size))

	bw := bufio.NewWriterSize(w, 1<<16)
	bw.Write(head)
	for i, x := range samples {
		if math.IsNaN(x) {
			return fmt.Errorf("capture: sample %d is not a number", i)
		}
		v := int32(math.Round(min(max(x*(1<<23), -1<<23), 1<<23-1)))
		bw.Write([]byte{byte(v), byte(v >> 8), byte(v >> 16)})
	}
	if size&1 == 1 {
		bw.WriteByte(0)
	}
	if err := bw.Flush(); err != nil {
		return fmt.Errorf("capture: write WAV: %w", err)
	}
	return nil
}
