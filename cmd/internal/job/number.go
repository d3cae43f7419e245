package job

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Number reads a number as people write it in a call: alone or with its unit behind it ("5", "5m", "5 m"), decimals after a point or a comma.
// Three digits after a comma are refused, as they might be thousands, but for those after a 0, which cannot.
func Number(s, unit string) (float64, error) {
	n := strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), unit))
	whole, decimals, comma := strings.Cut(n, ",")
	if comma && (len(decimals) != 3 || strings.TrimLeft(whole, "+-") == "0") {
		n = whole + "." + decimals
	}
	v, err := strconv.ParseFloat(n, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		switch spoken := spokenUnits[unit]; {
		case strings.Contains(n, ","):
			return 0, fmt.Errorf("%q: write the decimals after a point, as in 0.125", s)
		case unit == "":
			return 0, fmt.Errorf("%q is no number", s)
		case spoken != "":
			return 0, fmt.Errorf("%q is no number of %s", s, spoken)
		}
		return 0, fmt.Errorf("%q is no number of %s", s, unit)
	}
	return v, nil
}

// spokenUnits are units as they are named in a sentence.
var spokenUnits = map[string]string{"m": "metres", "s": "seconds", "mm": "millimetres", "min": "minutes", "%": "per cent", "°": "degrees", "cm": "centimetres", "d": "days"}
