package read

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strings"
)

// xmlFormat tells an XML file by its root element.
func xmlFormat(head []byte) format {
	t := bytes.TrimLeft(bytes.TrimPrefix(head, bom), " \t\r\n")
	if len(t) == 0 || t[0] != '<' {
		return unknownFormat
	}
	d := xml.NewDecoder(bytes.NewReader(t))
	d.CharsetReader = charset
	for {
		tok, err := d.RawToken()
		if err != nil {
			return unknownFormat
		}
		if s, ok := tok.(xml.StartElement); ok {
			switch s.Name.Local {
			case "gpx":
				return gpxFormat
			case "kml":
				return kmlFormat
			}
			return unknownFormat
		}
	}
}

// charset reads text in the encoding that an XML file declares.
func charset(label string, r io.Reader) (io.Reader, error) {
	name := strings.NewReplacer("-", "", "_", "", " ", "").Replace(strings.ToLower(label))
	if strings.HasPrefix(name, "utf16") { // it is UTF-8 by now: see fromUTF16
		return r, nil
	}
	for _, prefix := range []string{"", "iso", "windows", "cp"} {
		if e, ok := codePages[strings.TrimPrefix(name, prefix)]; ok && strings.HasPrefix(name, prefix) {
			return e.NewDecoder().Reader(r), nil
		}
	}
	return nil, fmt.Errorf("the encoding %q is not read", label)
}

// maxXMLDepth is how deep elements may lie in each other.
const maxXMLDepth = 256

// xmlWalk goes through an XML text element by element.
type xmlWalk struct {
	*xml.Decoder
	tail  *xmlTail
	path  []string // local names of the elements that are open
	text  []byte   // of the element at hand
	from  int64    // byte where the text of the element at hand begins
	takes bool     // text is wanted
}

func newXMLWalk(r io.Reader) *xmlWalk {
	w := &xmlWalk{tail: &xmlTail{r: r}}
	w.Decoder = xml.NewDecoder(w.tail)
	w.Entity = xml.HTMLEntity // names have them, though they are not declared
	w.CharsetReader = func(label string, r io.Reader) (io.Reader, error) {
		w.tail.off = true // bytes are no longer counted as they come
		return charset(label, r)
	}
	return w
}

// walk calls start at the begin and end at the end of every element; end gets
// its text if start asked for it by returning true. The error is nil at the end
// of a whole file.
func (w *xmlWalk) walk(start func(e xml.StartElement) bool, end func(name string, text []byte)) error {
	root := false
	for {
		tok, err := w.Token()
		if err == io.EOF && root && len(w.path) == 0 {
			return nil
		}
		if err != nil {
			if err == io.EOF {
				err = io.ErrUnexpectedEOF
			}
			return fmt.Errorf("byte %d: %w", w.InputOffset(), err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			if len(w.path) == maxXMLDepth {
				return fmt.Errorf("byte %d: elements lie in each other deeper than %d", w.InputOffset(), maxXMLDepth)
			}
			root = true
			w.path = append(w.path, tok.Name.Local)
			w.text, w.from = w.text[:0], w.InputOffset()
			w.tail.keep(w.from)
			w.takes = start(tok)
		case xml.CharData:
			if w.takes {
				w.text = append(w.text, tok...)
			}
		case xml.EndElement:
			w.path = w.path[:len(w.path)-1]
			var text []byte
			if w.takes {
				text = trim(w.text)
			}
			w.takes = false
			end(tok.Name.Local, text)
		}
	}
}

// within says whether an element of that name is open around the one at hand.
func (w *xmlWalk) within(name string) bool {
	for _, p := range w.path {
		if p == name {
			return true
		}
	}
	return false
}

// parent is the name of the innermost open element but up.
func (w *xmlWalk) parent(up int) string {
	if i := len(w.path) - 1 - up; i >= 0 {
		return w.path[i]
	}
	return ""
}

// line is the line at hand, from 1.
func (w *xmlWalk) line() int {
	l, _ := w.InputPos()
	return l
}

// rest is the text that came after the start of the element at hand before the
// file broke off in it; nil if it is not to be had.
func (w *xmlWalk) rest() []byte {
	if w.tail.off || w.from < w.tail.base || !w.takes {
		return nil
	}
	t := w.tail.buf[min(w.from-w.tail.base, int64(len(w.tail.buf))):]
	if i := bytes.IndexByte(t, '<'); i >= 0 {
		return nil // it did not break off in the text
	}
	return t
}

// xmlTail remembers the bytes since a place, because the decoder gives no text
// that breaks off.
type xmlTail struct {
	r    io.Reader
	buf  []byte
	base int64 // place of buf's first byte
	off  bool
}

func (t *xmlTail) Read(p []byte) (int, error) {
	n, err := t.r.Read(p)
	if !t.off {
		t.buf = append(t.buf, p[:n]...)
	}
	return n, err
}

// keep forgets what came before a place, now and then.
func (t *xmlTail) keep(from int64) {
	if n := from - t.base; n > 1<<16 && n <= int64(len(t.buf)) {
		t.buf = t.buf[:copy(t.buf, t.buf[n:])]
		t.base = from
	}
}
