package read

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
)

// cutRecord cuts the first n fields of a record without quotes.
func cutRecord(fields [][]byte, line []byte, delimiter byte, n int) [][]byte {
	for len(fields) < n {
		i := bytes.IndexByte(line, delimiter)
		if i < 0 {
			return append(fields, line)
		}
		fields = append(fields, line[:i])
		line = line[i+1:]
	}
	return fields
}

// splitRecord cuts a record into at most n fields; quotes stay on. open: a quoted
// field does not end.
func splitRecord(fields [][]byte, line []byte, delimiter byte, n int) (_ [][]byte, open bool) {
	for len(fields) < n {
		i := 0
		if len(line) > 0 && line[0] == '"' {
			for i = 1; ; i++ {
				j := bytes.IndexByte(line[i:], '"')
				if j < 0 {
					return append(fields, line), true
				}
				if i += j + 1; i == len(line) || line[i] != '"' {
					break
				}
			}
		}
		j := bytes.IndexByte(line[i:], delimiter)
		if j < 0 {
			return append(fields, line), false
		}
		fields = append(fields, line[:i+j])
		line = line[i+j+1:]
	}
	return fields, false
}

// unquote takes the quotes off a field.
func unquote(f []byte) []byte {
	if n := len(f); n >= 2 && f[0] == '"' && f[n-1] == '"' {
		f = f[1 : n-1]
		if bytes.Contains(f, []byte(`""`)) {
			f = bytes.ReplaceAll(f, []byte(`""`), []byte(`"`))
		}
	}
	return f
}

func trim(f []byte) []byte {
	for len(f) > 0 && f[0] <= ' ' {
		f = f[1:]
	}
	for len(f) > 0 && f[len(f)-1] <= ' ' {
		f = f[:len(f)-1]
	}
	return f
}

// isAbsent says whether a field says that nothing was logged.
func isAbsent(f []byte) bool {
	if len(f) == 0 {
		return true
	}
	if c := f[0]; len(f) > 4 || c-'0' < 10 {
		return false
	}
	switch string(bytes.ToLower(f)) {
	case "-", "na", "n/a", "nan", "null", "none", "nil", "?":
		return true
	}
	return false
}

// decimal reads a number with a decimal point or comma, correctly rounded (see
// pull.number); its digits and how many of them are decimals as well.
func decimal(b []byte) (v float64, mantissa uint64, decimals int, ok bool) {
	i, minus := 0, false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		minus = b[0] == '-'
		i++
	}
	from := i
	m := uint64(0)
	for i < len(b) && b[i]-'0' < 10 {
		m = m*10 + uint64(b[i]-'0')
		i++
	}
	digits := i - from
	if i < len(b) && (b[i] == '.' || b[i] == ',') {
		i++
		from = i
		for i < len(b) && b[i]-'0' < 10 {
			m = m*10 + uint64(b[i]-'0')
			i++
		}
		decimals = i - from
	}
	if digits+decimals == 0 {
		return 0, 0, 0, false
	}
	if i < len(b) || digits+decimals > 19 || m > 1<<53 {
		return longDecimal(b)
	}
	v = float64(m) / tens[decimals]
	if minus {
		v = -v
	}
	return v, m, decimals, true
}

// longDecimal reads what decimal cannot: many digits, an exponent.
func longDecimal(b []byte) (v float64, mantissa uint64, decimals int, ok bool) {
	if c := b[len(b)-1]; len(b) > 400 || c-'0' >= 10 && c != '.' {
		return 0, 0, 0, false
	}
	for _, c := range b { // no hexadecimal, no underscore, no words
		if c-'0' >= 10 && c != '.' && c != ',' && c != '-' && c != '+' && c|0x20 != 'e' {
			return 0, 0, 0, false
		}
	}
	v, err := strconv.ParseFloat(string(bytes.ReplaceAll(b, []byte{','}, []byte{'.'})), 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, 0, 0, false
	}
	if a := math.Abs(v); a < 1e9 {
		mantissa, decimals = uint64(math.Round(a*1e9)), 9
	}
	return v, mantissa, decimals, true
}

func clip(s string) string {
	if len(s) > 40 {
		s = s[:40]
	}
	return s
}

func inQuotes(f []byte) string { return fmt.Sprintf("%q", f[:min(len(f), 40)]) }
