package cli

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"balk/cmd/internal/job"
)

// measure is a flag that holds a length or a time: a plain number, or a number
// with its unit, as "5", "5m" or "5 m". Other units are refused.
type measure struct {
	value *float64
	unit  string
}

func (m measure) String() string {
	if m.value == nil || *m.value == 0 {
		return ""
	}
	return strconv.FormatFloat(*m.value, 'g', -1, 64)
}

func (m measure) Type() string { return m.unit }

func (m measure) Set(s string) error {
	n := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), m.unit))
	if whole, decimals, ok := strings.Cut(n, ","); ok && len(decimals) != 3 { // three might be thousands
		n = whole + "." + decimals
	}
	v, err := strconv.ParseFloat(n, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		if strings.Contains(n, ",") {
			return fmt.Errorf("%q: write the decimals after a point, as in 0.125", s)
		}
		if m.unit == "" {
			return fmt.Errorf("%q is no number", s)
		}
		spoken := map[string]string{"m": "metres", "s": "seconds", "mm": "millimetres", "min": "minutes", "%": "per cent"}[m.unit]
		return fmt.Errorf("%q is no number of %s", s, cmp.Or(spoken, m.unit))
	}
	*m.value = v
	return nil
}

// days is a flag that holds days.
type days struct{ value *job.Days }

func (d days) String() string {
	if d.value == nil {
		return ""
	}
	return d.value.String()
}

func (d days) Type() string { return "days" }

func (d days) Set(s string) (err error) {
	*d.value, err = job.ParseDays(s)
	return err
}
