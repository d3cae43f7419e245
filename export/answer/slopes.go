package answer

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"balk/coverage"
	"balk/export/words"
)

// Slopes says how steep the ground is at work and under missed strips: those from a limit on, percent, or where none is given the steepest. "" where nothing
// is known of slopes, and on level ground.
func Slopes(l words.Language, s *coverage.Slope, strips []coverage.Strip, limit float64) string {
	if s == nil || 100*s.Most.Slope < toldSlope {
		return ""
	}
	said := l.Say("At work the ground rises by %.0f %% in the mean and by %.0f %% at the most (%s); across the way by up to %.0f %%.",
		100*s.Mean, 100*s.Most.Slope, words.Place(s.Most.At), 100*s.Across.Slope)
	var all []onSlope
	for _, strip := range strips {
		if strip.Lies != nil {
			all = append(all, onSlope{fmt.Sprint(strip.Number), 100 * strip.Lies.Across})
		}
	}
	switch steep := from(all, limit); {
	case len(steep) == 0:
	case limit == 0:
		said += " " + l.Say("Of missed strips, number %s lies across the steepest slope, %.0f %%.", steep[0].name, steep[0].percent)
	case len(steep) == 1:
		said += " " + l.Say("Strip %s lies across a slope of %.0f %%.", steep[0].name, steep[0].percent)
	default:
		said += " " + l.Say("Across slopes of %g %% and more lie strips %s.", limit, listed(steep))
	}
	return said
}

// Way is a part of a way still to be driven, on its slopes.
type Way struct {
	Name string // in words
	coverage.WaySlope
}

// Ways says of ways still to be driven which lie across a slope, or go downhill, from a limit on, percent, or where none is given which do most. "" where
// nothing is known of slopes.
func Ways(l words.Language, ways []Way, limit float64) string {
	var across, down, turning []onSlope
	for _, w := range ways {
		across = append(across, onSlope{w.Name, 100 * w.Across})
		if w.Turning {
			turning = append(turning, onSlope{w.Name, 100 * w.Down})
		} else {
			down = append(down, onSlope{w.Name, 100 * w.Down})
		}
	}
	var said []string
	for _, one := range []struct {
		ways      []onSlope
		one, many string
	}{
		{across, "%s runs across a slope of %.0f %%.", "Across slopes of %g %% and more run: %s."},
		{turning, "%s turns downhill at %.0f %%.", "Downhill at %g %% and more turn: %s."},
		{down, "%s runs downhill at %.0f %%.", "Downhill at %g %% and more run: %s."},
	} {
		steep := from(one.ways, limit)
		switch {
		case len(steep) == 0:
		case limit == 0 || len(steep) == 1:
			said = append(said, l.Say(one.one, begun(steep[0].name), steep[0].percent))
		default:
			said = append(said, l.Say(one.many, limit, listed(steep)))
		}
	}
	if limit == 0 && len(said) > 0 {
		said = append(said, l.Word("These are the steepest; none is presumed safe (--steep names all from a limit on)."))
	}
	return strings.Join(said, " ")
}

// onSlope is something and the slope that it is on, percent.
type onSlope struct {
	name    string
	percent float64
}

// toldSlope: less than a percent is level ground for whoever drives there (common practice, no source).
const toldSlope = 1.0

// from are those from a limit on, the steepest first; without a limit that alone. Level ground is none.
func from(all []onSlope, limit float64) []onSlope {
	all = slices.DeleteFunc(all, func(o onSlope) bool { return o.percent < max(limit, toldSlope) })
	slices.SortStableFunc(all, func(a, b onSlope) int { return cmp.Compare(b.percent, a.percent) })
	if limit == 0 {
		all = all[:min(1, len(all))]
	}
	return all
}

func listed(all []onSlope) string {
	out := make([]string, len(all))
	for i, o := range all {
		out[i] = fmt.Sprintf("%s (%.0f %%)", o.name, o.percent)
	}
	return strings.Join(out, ", ")
}

// begun is a name where a sentence begins.
func begun(name string) string { return strings.ToUpper(name[:1]) + name[1:] }
