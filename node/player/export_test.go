package player

// DecodeFrame decodes one frame of a fresh page.
func DecodeFrame(frame []byte, format string) ([]float32, error) {
	p := micPage{hello: micHelloMessage{Format: format}}
	_, err := p.decode(frame)
	return p.samples, err
}
