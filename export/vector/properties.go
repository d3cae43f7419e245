package vector

import (
	"encoding/json"
	"math"
	"time"
)

// properties is the inside of a JSON object, in the order it was filled.
type properties struct{ text []byte }

// value writes a value as its column says. What is no number and no time is null.
func (p *properties) value(c Property, v any) {
	if len(p.text) > 0 {
		p.text = append(p.text, ',')
	}
	p.text = append(appendString(p.text, c.Name), ':')
	p.text = c.appendJSON(p.text, v)
}

// raw is JSON that stands as it is; where there is no JSON it is a text.
type raw string

// appendJSON writes a value; check lets no other kinds through.
func (c Property) appendJSON(b []byte, v any) []byte {
	switch v := v.(type) {
	case string:
		return appendString(b, v)
	case raw:
		return append(b, v...)
	case int, bool:
		return c.appendText(b, v)
	case float64:
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			return c.appendText(b, v)
		}
	case time.Time:
		if !v.IsZero() {
			return append(c.appendText(append(b, '"'), v), '"')
		}
	case []int:
		return append(b, listOf(len(v), func(i int) any { return v[i] })...)
	}
	return append(b, "null"...)
}

// listOf is a list of n values as JSON.
func listOf(n int, item func(i int) any) raw {
	b := []byte{'['}
	for i := range n {
		if i > 0 {
			b = append(b, ',')
		}
		b = Property{}.appendJSON(b, item(i))
	}
	return raw(append(b, ']'))
}

// appendString quotes s as JSON. json.Marshal of a string cannot fail: bytes
// that are not UTF-8 are replaced. Plain text, which nearly all is, does
// without.
func appendString(b []byte, s string) []byte {
	if isPlain(s) {
		return append(append(append(b, '"'), s...), '"')
	}
	q, err := json.Marshal(s)
	if err != nil {
		return append(b, `""`...)
	}
	return append(b, q...)
}

// isPlain says that a text stands in JSON as it is: printable ASCII, none of it
// escaped by json.Marshal.
func isPlain(s string) bool {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c > '~' || c == '"' || c == '\\' || c == '<' || c == '>' || c == '&' {
			return false
		}
	}
	return true
}
