package vector

import (
	"encoding/json"
	"math"
	"strconv"
	"time"
)

// properties is the inside of a JSON object, in the order it was filled.
type properties struct{ text []byte }

func (p *properties) key(name string) {
	if len(p.text) > 0 {
		p.text = append(p.text, ',')
	}
	p.text = append(appendString(p.text, name), ':')
}

func (p *properties) words(name, v string) {
	p.key(name)
	p.text = appendString(p.text, v)
}

func (p *properties) integer(name string, v int) {
	p.key(name)
	p.text = strconv.AppendInt(p.text, int64(v), 10)
}

func (p *properties) truth(name string, v bool) {
	p.key(name)
	p.text = strconv.AppendBool(p.text, v)
}

// number writes v with the given decimals; what is not a number becomes null.
func (p *properties) number(name string, v float64, decimals int) {
	p.key(name)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		p.text = append(p.text, "null"...)
		return
	}
	p.text = strconv.AppendFloat(p.text, v, 'f', decimals, 64)
}

// instant writes a UTC time, or null for the zero time.
func (p *properties) instant(name string, t time.Time) {
	p.key(name)
	if t.IsZero() {
		p.text = append(p.text, "null"...)
		return
	}
	p.text = append(p.text, '"')
	p.text = t.UTC().AppendFormat(p.text, time.RFC3339Nano)
	p.text = append(p.text, '"')
}

func (p *properties) integers(name string, v []int) {
	p.key(name)
	p.text = append(p.text, '[')
	for i, n := range v {
		if i > 0 {
			p.text = append(p.text, ',')
		}
		p.text = strconv.AppendInt(p.text, int64(n), 10)
	}
	p.text = append(p.text, ']')
}

// value writes a value as its column says. What is no number and no time is
// null.
func (p *properties) value(c Property, v any) {
	switch v := v.(type) {
	case string:
		p.words(c.Name, v)
	case int:
		p.integer(c.Name, v)
	case float64:
		p.number(c.Name, v, c.Decimals)
	case bool:
		p.truth(c.Name, v)
	case time.Time:
		p.instant(c.Name, v)
	case []int:
		p.integers(c.Name, v)
	default: // nil: check lets nothing else through
		p.key(c.Name)
		p.text = append(p.text, "null"...)
	}
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
