package player

// DecodeFrame decodes one frame of a fresh page.
func DecodeFrame(frame []byte, format string) ([]float32, error) {
	p := micPage{hello: micHelloMessage{Format: format}}
	_, err := p.decode(frame)
	return p.samples, err
}

// Sheet is the page as it stands.
func (s *Server) Sheet() Sheet { return s.sheet() }
