package vector

import (
	"cmp"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// appendText writes a value as text: numbers with the decimals of their column,
// times as RFC 3339 in UTC, lists with blanks between ("4 5": a comma would make a
// number of it where commas are decimal). nil is no text. It is the same text
// in every format that is text.
func (p Property) appendText(b []byte, v any) []byte {
	switch v := v.(type) {
	case string:
		return append(b, wellFormed(v)...)
	case int:
		return strconv.AppendInt(b, int64(v), 10)
	case float64:
		return strconv.AppendFloat(b, v, 'f', p.Decimals, 64)
	case bool:
		return strconv.AppendBool(b, v)
	case time.Time:
		return v.UTC().AppendFormat(b, time.RFC3339Nano)
	case []int:
		for i, n := range v {
			if i > 0 {
				b = append(b, ' ')
			}
			b = strconv.AppendInt(b, int64(n), 10)
		}
	}
	return b
}

func (p Property) text(v any) string { return string(p.appendText(nil, v)) }

// wellFormed replaces what no text format can hold: bytes that are not UTF-8 and
// the character NUL. The mark U+FFFD says that something was there.
func wellFormed(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	return strings.ReplaceAll(s, "\x00", "\uFFFD")
}

// plainSentence says a value for people: "area 20.00 m²".
func (p Property) plainSentence(v any) string {
	t := p.text(v)
	if v, ok := v.(bool); ok {
		t = cmp.Or(p.Said[0], "no")
		if v {
			t = cmp.Or(p.Said[1], "yes")
		}
	}
	if p.Comma && p.Holds == Number {
		t = strings.Replace(t, ".", ",", 1)
	}
	if p.Unit != "" && p.Unit != "UTC" {
		t += " " + p.Unit
	}
	return p.title() + ": " + t
}

// sentences says a row for people, without what names the feature and without
// what is empty or not known.
func (l Layer) sentences(row []any) []string {
	var out []string
	label := l.label()
	for i, c := range l.Columns {
		if i != label && row[i] != nil && row[i] != "" && !c.given() {
			out = append(out, c.plainSentence(row[i]))
		}
	}
	return out
}

// aboutIt says what is known about the layer as a whole.
func (l Layer) aboutIt() string {
	var out []string
	for _, f := range l.Facts {
		if f.Value != nil {
			out = append(out, f.plainSentence(f.Value))
		}
	}
	if l.LeftOut > 0 {
		out = append(out, fmt.Sprintf("rings lost by rounding: %d", l.LeftOut))
	}
	return strings.Join(out, "; ")
}

// labelOf is the text that names a feature, "" for none.
func (l Layer) labelOf(row []any) string {
	if i := l.label(); i >= 0 {
		return l.Columns[i].text(row[i])
	}
	return ""
}

// appendShortest writes degrees with as few digits as read back to the very same
// number.
func appendShortest(b []byte, v float64) []byte { return strconv.AppendFloat(b, v, 'f', -1, 64) }

// Check says why no format can hold the layers in one file; nil: any can, but for its own limits.
func Check(layers []Layer) error { return checkAll(layers) }

// checkAll checks layers that go into one file; their names must differ.
func checkAll(layers []Layer) error {
	seen := map[string]bool{}
	for _, l := range layers {
		if seen[l.Name] {
			return &LayerError{Layer: l.Name, What: "two layers have this name"}
		}
		seen[l.Name] = true
		if err := l.check(); err != nil {
			return err
		}
	}
	return nil
}
