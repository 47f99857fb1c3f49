package capture

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Limits of a believable file. Outside them a file is broken or not sound.
const (
	// MinRate and MaxRate bound the sample rate in Hz: below 8 kHz brass
	// overtones are gone, above 192 kHz nothing records.
	MinRate, MaxRate = 8000, 192000
	// maxChannels is more than any field recorder writes.
	maxChannels = 64
	// maxFmtBytes bounds the fmt chunk; the longest standard one has 40 bytes.
	maxFmtBytes = 1024
	// openBytes is the smallest data size that means "length unknown": programs
	// that write into a pipe put 0x7FFFF000 or more there, up to 0xFFFFFFFF.
	openBytes = 0x7FFFF000
)

// Format tags (RFC 2361, appendix A).
const (
	tagPCM        = 0x0001
	tagFloat      = 0x0003
	tagExtensible = 0xFFFE
)

// wavFormat is what the fmt chunk says about a frame.
type wavFormat struct {
	rate     uint32
	channels int
	bytes    int // of one sample of one channel
	float    bool
}

func (f wavFormat) frameBytes() int { return f.channels * f.bytes }

// wavHeader is everything before the samples.
type wavHeader struct {
	format wavFormat
	bytes  uint64 // declared size of the data chunk
	open   bool   // bytes means nothing: read to the end
}

// readWAVHeader reads up to the first byte of the samples.
func readWAVHeader(r *bufio.Reader) (wavHeader, error) {
	var h wavHeader
	var head [12]byte
	if _, err := io.ReadFull(r, head[:]); err != nil {
		if errors.Is(err, io.EOF) {
			return h, fmt.Errorf("%w: the file is empty", ErrEmpty)
		}
		return h, notAudio(err)
	}
	if id := string(head[:4]); id == "RIFX" {
		return h, fmt.Errorf("big-endian WAV (RIFX) is not supported, convert it to plain WAV")
	} else if (id != "RIFF" && id != "RF64") || string(head[8:]) != "WAVE" {
		return h, ErrNotAudio
	}
	for seenFormat := false; ; {
		id, size, err := readChunkHead(r)
		switch {
		case err != nil && !seenFormat:
			return h, fmt.Errorf("%w: the file ends inside its header", ErrTruncated)
		case err != nil:
			return h, fmt.Errorf("%w: there is no data chunk", ErrEmpty)
		case id == "fmt " && !seenFormat:
			if h.format, err = readFormat(r, size); err != nil {
				return h, err
			}
			seenFormat = true
		case id == "data" && !seenFormat:
			return h, fmt.Errorf("the data chunk comes before the format, the file is damaged")
		case id == "data" && size == 0:
			return h, fmt.Errorf("%w: the data chunk is empty", ErrEmpty)
		case id == "data":
			h.bytes, h.open = uint64(size), size >= openBytes
			if !h.open && size < uint32(h.format.frameBytes()) {
				return h, fmt.Errorf("%w: %d bytes are less than one sample", ErrEmpty, size)
			}
			return h, nil
		default:
			// Chunks are padded to an even length.
			if _, err := io.CopyN(io.Discard, r, int64(size)+int64(size&1)); err != nil {
				return h, fmt.Errorf("%w: the file ends inside its header", ErrTruncated)
			}
		}
	}
}

// notAudio keeps a device's read error and turns a short file into ErrNotAudio.
func notAudio(err error) error {
	if errors.Is(err, io.ErrUnexpectedEOF) {
		return ErrNotAudio
	}
	return err
}

func readChunkHead(r io.Reader) (id string, size uint32, err error) {
	var head [8]byte
	if _, err := io.ReadFull(r, head[:]); err != nil {
		return "", 0, err
	}
	return string(head[:4]), binary.LittleEndian.Uint32(head[4:]), nil
}

// extensibleGUID is the fixed tail of the sub-format identifiers
// KSDATAFORMAT_SUBTYPE_PCM and _IEEE_FLOAT; the format tag precedes it.
var extensibleGUID = [14]byte{0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71}

func readFormat(r io.Reader, size uint32) (wavFormat, error) {
	var f wavFormat
	if size < 16 || size > maxFmtBytes {
		return f, fmt.Errorf("fmt chunk of %d bytes, need 16 to %d, the file is damaged", size, maxFmtBytes)
	}
	raw := make([]byte, size+size&1)
	if _, err := io.ReadFull(r, raw); err != nil {
		return f, fmt.Errorf("%w: the file ends inside its header", ErrTruncated)
	}
	raw = raw[:size]
	le := binary.LittleEndian
	tag := le.Uint16(raw)
	f.channels = int(le.Uint16(raw[2:]))
	f.rate = le.Uint32(raw[4:])
	align := int(le.Uint16(raw[12:]))
	bits := int(le.Uint16(raw[14:]))
	if tag == tagExtensible {
		if size < 40 || [14]byte(raw[26:40]) != extensibleGUID {
			return f, errors.New("extensible WAV with an unknown sub-format, convert it to plain PCM")
		}
		tag = le.Uint16(raw[24:])
	}
	f.bytes = (bits + 7) / 8
	f.float = tag == tagFloat
	if err := f.check(tag, bits, align); err != nil {
		return f, err
	}
	return f, nil
}

// check refuses what decode could not read.
func (f wavFormat) check(tag uint16, bits, align int) error {
	switch {
	case tag != tagPCM && tag != tagFloat:
		return fmt.Errorf("WAV format 0x%04X is compressed or unknown, convert it to plain PCM", tag)
	case f.channels < 1 || f.channels > maxChannels:
		return fmt.Errorf("%d channels, need 1 to %d", f.channels, maxChannels)
	case f.rate < MinRate || f.rate > MaxRate:
		return fmt.Errorf("sample rate %d Hz, need %d to %d", f.rate, MinRate, MaxRate)
	case f.float && bits != 32 && bits != 64:
		return fmt.Errorf("%d bit float samples, need 32 or 64", bits)
	case !f.float && (bits < 8 || bits > 32):
		return fmt.Errorf("%d bit samples, need 8 to 32", bits)
	case align != f.frameBytes():
		return fmt.Errorf("frames of %d bytes do not fit %d channels of %d bits, the file is damaged", align, f.channels, bits)
	}
	return nil
}

// decode makes one channel of each frame in raw, with d, in dst and returns the
// number of frames. It stops in front of a frame that is not finite (ok false).
// Float samples beyond full scale are held at full scale.
func (f wavFormat) decode(d *downmix, dst []float64, raw []byte) (frames int, ok bool) {
	size := f.frameBytes()
	frames = len(raw) / size
	for i := range frames {
		frame := raw[i*size : (i+1)*size]
		var first, sum, squares float64
		for c := 0; c < size; c += f.bytes {
			v := f.sample(frame[c : c+f.bytes])
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return i, false
			}
			v = min(max(v, -1), 1)
			if c == 0 {
				first = v
			}
			sum, squares = sum+v, squares+v*v
		}
		n := float64(f.channels)
		dst[i] = d.next(sum/n, first, squares/n)
	}
	return frames, true
}

// sample decodes one little-endian sample into [-1, 1]. Eight bit samples are
// unsigned, all wider ones signed; fewer bits than bytes are left-justified.
func (f wavFormat) sample(b []byte) float64 {
	le := binary.LittleEndian
	switch {
	case f.float && f.bytes == 4:
		return float64(math.Float32frombits(le.Uint32(b)))
	case f.float:
		return math.Float64frombits(le.Uint64(b))
	case f.bytes == 1:
		return (float64(b[0]) - 128) / 128
	case f.bytes == 2:
		return float64(int16(le.Uint16(b))) / (1 << 15)
	case f.bytes == 3:
		return float64(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)) / (1 << 31)
	default:
		return float64(int32(le.Uint32(b))) / (1 << 31)
	}
}
