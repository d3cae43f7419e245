package vector

import (
	"bufio"
	"encoding/xml"
	"io"
)

// markup writes XML. Errors of the writer stick to the buffer and come out at
// its end, so they are not looked at in between.
type markup struct{ w *bufio.Writer }

func newMarkup(w io.Writer) markup {
	m := markup{bufio.NewWriterSize(w, 1<<16)}
	m.raw(xml.Header)
	return m
}

// raw writes markup as it stands.
func (m markup) raw(parts ...string) {
	for _, s := range parts {
		_, _ = m.w.WriteString(s)
	}
}

// text writes text, in an element or in quotes. What XML cannot hold (control
// characters, bytes that are not UTF-8) becomes U+FFFD.
func (m markup) text(s string) {
	if isPlain(s) {
		m.raw(s)
		return
	}
	_ = xml.EscapeText(m.w, []byte(wellFormed(s)))
}

// element writes an element that holds text; nothing if there is none.
func (m markup) element(name, text string) {
	if text == "" {
		return
	}
	m.raw("<", name, ">")
	m.text(text)
	m.raw("</", name, ">")
}

// attribute writes an attribute; nothing if there is no text.
func (m markup) attribute(name, text string) {
	if text == "" {
		return
	}
	m.raw(" ", name, `="`)
	m.text(text)
	m.raw(`"`)
}

func (m markup) bytes(b []byte) { _, _ = m.w.Write(b) }

func (m markup) close() error { return m.w.Flush() }
