package words

import (
	"strings"
	"testing"

	"balk/coverage"
)

// What the joins say otherwise stands first, with both readings; what they cannot tell, below the range. Where neither is so, nothing is said.
func TestBarAsideInWords(t *testing.T) {
	for name, c := range map[string]struct {
		is           coverage.Aside
		first, holds map[Language]string
	}{
		"nothing": {},
		"by the joins, to the left": {coverage.Aside{By: -0.2, Missed: 113, Joins: true, Doubt: 0.021},
			map[Language]string{English: "the bar ran 0.20 m to the left of where it was taken (± 0.02 m, 99 %). Missed are 0.0800 ha if it runs where it was taken, 0.0113 ha if",
				German: "das Gerät 0,20 m weiter links als angenommen (± 0,02 m, 99 %). Ausgelassen sind 0,0800 ha, wenn es läuft wie angenommen, 0,0113 ha, wenn"}, nil},
		"by the joins, to the right": {coverage.Aside{By: 0.2, Missed: 113, Joins: true, Doubt: 0.021},
			map[Language]string{English: "ran 0.20 m to the right", German: "0,20 m weiter rechts"}, nil},
		"not to be told, worse to the right": {coverage.Aside{By: 0.1, Missed: 600}, nil,
			map[Language]string{English: "a log cannot tell: 10 cm to the right would make it 0.0600 ha missed. Three joins measured with a tape decide", German: "10 cm weiter rechts wären es 0,0600 ha"}},
		"not to be told, worse to the left": {coverage.Aside{By: -0.1, Missed: 600}, nil,
			map[Language]string{English: "10 cm to the left would", German: "10 cm weiter links wären"}},
	} {
		o := coverage.Open{Aside: c.is}
		for _, l := range []Language{English, German} {
			for what, pair := range map[string]struct {
				got  []string
				want string
			}{"first": {l.First(o, 800), c.first[l]}, "below the range": {l.Holds(o), c.holds[l]}} {
				if all := strings.Join(pair.got, "\n"); pair.want == "" && all != "" || !strings.Contains(all, pair.want) {
					t.Errorf("%s, %s, %s: %q, want %q", name, l, what, all, pair.want)
				}
			}
		}
	}
}
