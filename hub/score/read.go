package score

import (
	"archive/zip"
	"bufio"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
)

// Read reads a score from MusicXML or from a compressed .mxl archive; it
// tells them apart by their first bytes. Errors wrap ErrTooBig, ErrForbidden
// or ErrNotMusicXML where the file is at fault.
func Read(r io.Reader) (*Score, error) {
	b := bufio.NewReader(r)
	if magic, _ := b.Peek(4); bytes.HasPrefix(magic, []byte("PK\x03\x04")) {
		return readArchive(b)
	}
	return readXML(b)
}

func readArchive(r io.Reader) (*Score, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxArchiveBytes+1))
	if err != nil {
		return nil, fmt.Errorf("score: archive: %w", err)
	}
	if len(data) > MaxArchiveBytes {
		return nil, fmt.Errorf("%w: an archive of more than %d MB", ErrTooBig, MaxArchiveBytes>>20)
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("%w: broken archive: %v", ErrNotMusicXML, err)
	}
	if len(z.File) > MaxEntries {
		return nil, fmt.Errorf("%w: an archive of %d files, need at most %d", ErrTooBig, len(z.File), MaxEntries)
	}
	name, err := rootFile(z)
	if err != nil {
		return nil, err
	}
	f, err := open(z, name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return readXML(bufio.NewReader(f))
}

// containerPath is where an .mxl archive names its score (MusicXML 4.0,
// Compressed .mxl files).
const containerPath = "META-INF/container.xml"

// rootFile is the first root file the container names, or, in archives
// without a container, the first XML file outside META-INF.
func rootFile(z *zip.Reader) (string, error) {
	f, err := open(z, containerPath)
	if errors.Is(err, ErrTooBig) {
		return "", err
	}
	if err != nil {
		return looseFile(z)
	}
	defer f.Close()
	t := newTokens(bufio.NewReader(f))
	for {
		start, ok, err := t.nextStart()
		if err != nil {
			return "", err
		}
		if !ok {
			return looseFile(z)
		}
		if start.Name.Local != "rootfile" {
			continue
		}
		if name := attr(start, "full-path"); name != "" {
			return name, nil
		}
	}
}

func looseFile(z *zip.Reader) (string, error) {
	for _, f := range z.File {
		ext := strings.ToLower(path.Ext(f.Name))
		if (ext == ".xml" || ext == ".musicxml") && !strings.HasPrefix(f.Name, "META-INF/") {
			return f.Name, nil
		}
	}
	return "", fmt.Errorf("%w: an archive without a score", ErrNotMusicXML)
}

// open opens a file of the archive by its exact name. Names are only looked
// up, never used as paths. What is inflated is bounded by the guard of whoever reads it.
func open(z *zip.Reader, name string) (io.ReadCloser, error) {
	for _, f := range z.File {
		if f.Name != name {
			continue
		}
		if f.UncompressedSize64 > MaxXMLBytes {
			return nil, fmt.Errorf("%w: %s inflates to more than %d MB", ErrTooBig, clip(name), MaxXMLBytes>>20)
		}
		r, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("%w: %s in the archive: %v", ErrNotMusicXML, clip(name), err)
		}
		return r, nil
	}
	return nil, fmt.Errorf("%w: the archive has no %q", ErrNotMusicXML, clip(name))
}

func readXML(r *bufio.Reader) (*Score, error) {
	t := newTokens(r)
	start, ok, err := t.nextStart()
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, fmt.Errorf("%w: no XML element", ErrNotMusicXML)
	}
	switch start.Name.Local {
	case "score-partwise", "score-timewise":
	default:
		return nil, fmt.Errorf("%w: the document is a %q, need score-partwise or score-timewise", ErrNotMusicXML, clip(start.Name.Local))
	}
	b := newBuilder(t, start.Name.Local == "score-timewise")
	if err := b.score(); err != nil {
		return nil, err
	}
	return b.finish()
}

// tokens reads XML elements within the limits.
type tokens struct {
	d        *xml.Decoder
	depth    int
	elements int
}

func newTokens(r *bufio.Reader) *tokens {
	d := xml.NewDecoder(&guard{r: utf8Reader(r), left: MaxXMLBytes})
	d.CharsetReader = charset
	d.Strict = true // an entity that XML itself does not define is an error
	return &tokens{d: d}
}

// next returns the next start, end or text token, or io.EOF.
func (t *tokens) next() (xml.Token, error) {
	for {
		tok, err := t.d.Token()
		if err != nil {
			return nil, t.explain(err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			if t.depth++; t.depth > MaxDepth {
				return nil, fmt.Errorf("%w: elements nested more than %d deep", ErrTooBig, MaxDepth)
			}
			if t.elements++; t.elements > MaxElements {
				return nil, fmt.Errorf("%w: more than %d elements", ErrTooBig, MaxElements)
			}
			return tok, nil
		case xml.EndElement:
			t.depth--
			return tok, nil
		case xml.CharData:
			return tok, nil
		case xml.Directive:
			if err := harmless(tok); err != nil {
				return nil, err
			}
		}
	}
}

// harmless lets a document type be named, but not declare anything.
func harmless(d xml.Directive) error {
	if bytes.ContainsAny(d, "[<") || bytes.Contains(bytes.ToUpper(d), []byte("ENTITY")) {
		return fmt.Errorf("%w: the document type declares entities or elements of its own", ErrForbidden)
	}
	return nil
}

// explain keeps our own errors and says where the XML went wrong.
func (t *tokens) explain(err error) error {
	if err == io.EOF || errors.Is(err, ErrTooBig) || errors.Is(err, ErrForbidden) || errors.Is(err, ErrNotMusicXML) {
		return err
	}
	var syntax *xml.SyntaxError
	if errors.As(err, &syntax) {
		return fmt.Errorf("%w: line %d: %s", ErrNotMusicXML, syntax.Line, clip(syntax.Msg))
	}
	if errors.Is(err, zip.ErrFormat) || errors.Is(err, zip.ErrChecksum) || errors.Is(err, io.ErrUnexpectedEOF) {
		return fmt.Errorf("%w: broken archive: %v", ErrNotMusicXML, err)
	}
	return fmt.Errorf("score: %w", err)
}

// nextStart skips to the next start of an element; ok is false at the end.
func (t *tokens) nextStart() (start xml.StartElement, ok bool, err error) {
	for {
		tok, err := t.next()
		if err == io.EOF {
			return start, false, nil
		}
		if err != nil {
			return start, false, err
		}
		if s, is := tok.(xml.StartElement); is {
			return s, true, nil
		}
	}
}

// each calls f for every child of the element just started, until its end. f
// must consume its child.
func (t *tokens) each(f func(xml.StartElement) error) error {
	for {
		tok, err := t.next()
		if err == io.EOF {
			return fmt.Errorf("%w: the document ends too early", ErrNotMusicXML)
		}
		if err != nil {
			return err
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			if err := f(tok); err != nil {
				return err
			}
		case xml.EndElement:
			return nil
		}
	}
}

// skip passes over the element just started.
func (t *tokens) skip() error {
	return t.each(func(xml.StartElement) error { return t.skip() })
}

// text returns the text of the element just started, clipped.
func (t *tokens) text() (string, error) {
	var s []byte
	for {
		tok, err := t.next()
		if err == io.EOF {
			return "", fmt.Errorf("%w: the document ends too early", ErrNotMusicXML)
		}
		if err != nil {
			return "", err
		}
		switch tok := tok.(type) {
		case xml.CharData:
			if len(s) < MaxTextBytes {
				s = append(s, tok...)
			}
		case xml.StartElement:
			if err := t.skip(); err != nil {
				return "", err
			}
		case xml.EndElement:
			return clip(strings.Join(strings.Fields(string(s)), " ")), nil
		}
	}
}

func attr(s xml.StartElement, name string) string {
	for _, a := range s.Attr {
		if a.Name.Local == name {
			return clip(a.Value)
		}
	}
	return ""
}

// clip bounds a text from the file by MaxTextBytes and makes it valid.
func clip(s string) string {
	if len(s) > MaxTextBytes {
		s = s[:MaxTextBytes]
	}
	return strings.ToValidUTF8(s, "�")
}
