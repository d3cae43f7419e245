package fieldday

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"balk/coverage"
	"balk/coverage/pattern"
)

// Known is a day with what strips are to have in common, and no more than that.
type Known struct {
	Situation
	Want   map[pattern.Kind]float64 // Pattern.By
	Within float64                  // of that, as a share
}

// What rows begun late are late by: less the 0.3 m that they begin too early in the mean, and 0.3 m that they reach into the headland.
const lateBy = late - 0.3 - 0.3

// Knowns are days with one fault each, with two at once, with one that is none of many rows, and without any. The names are those of the rows of a table.
func Knowns() (all []Known) {
	logs := map[string]Situation{}
	for _, s := range Situations() {
		logs[s.Name] = s
	}
	widths := logs["fixed, 5 Hz, mounted"]
	widths.Receiver.Widths = true
	logs["widths logged"] = widths
	add := func(name, log string, driven Driving, within float64, want map[pattern.Kind]float64) {
		s, ok := logs[log]
		if !ok {
			panic("field day: no situation " + log)
		}
		driven.Trailed = s.Driving.Trailed
		s.Name, s.Driving, s.Fault = name, driven, Fault{}
		all = append(all, Known{s, want, within})
	}
	type by = map[pattern.Kind]float64
	const (
		often    = "fixed, 5 Hz, mounted"
		seldom   = "fixed, 1 Hz, mounted"
		antenna  = "antenna 20 cm right in the file, mounted"
		shift    = 17
		shiftBy  = 0.45 // m
		fan      = 6e-4
		slide    = 1.5e-3
		neverPut = 1.5 // m, of the bar
	)
	add("late in the north", often, Driving{Late: late}, 0.25, by{pattern.Late: lateBy})
	add("late in the north, 1 Hz", seldom, Driving{Late: late}, 0.35, by{pattern.Late: lateBy})
	add("line shifted", seldom, Driving{Shift: shift, ShiftBy: shiftBy}, 0.45, by{pattern.Shifted: shiftBy})
	add("lines too far apart", often, Driving{Spread: 0.15}, 0.35, by{pattern.Apart: 0.15})
	add("each row turns", often, Driving{Fan: fan}, 0.2, by{pattern.Fan: fan})
	add("rows slide aside", seldom, Driving{Slide: slide}, 0.35, by{pattern.Slide: slide})
	add("bar aside, by another antenna in the file", antenna, Driving{}, 0.35, by{pattern.Aside: antennaOff})
	add("a section never down", "widths logged", Driving{Section: AllRows, SectionWidth: neverPut}, 0.01, by{pattern.Section: neverPut})
	// Two at once.
	add("rows turn, late in the north", often, Driving{Fan: fan, Late: late}, 0.3, by{pattern.Fan: fan, pattern.Late: lateBy})
	add("line shifted, rows slide", often, Driving{Slide: slide, Shift: shift, ShiftBy: shiftBy}, 0.45, by{pattern.Slide: slide, pattern.Shifted: shiftBy})
	add("line shifted, late in the north", often, Driving{Late: late, Shift: shift, ShiftBy: shiftBy}, 0.45, by{pattern.Late: lateBy, pattern.Shifted: shiftBy})
	add("bar aside, late in the north", antenna, Driving{Late: late}, 0.35, by{pattern.Aside: antennaOff, pattern.Late: lateBy})
	add("a section never down, late in the north", "widths logged", Driving{Section: AllRows, SectionWidth: neverPut, Late: late}, 0.25, by{pattern.Section: neverPut, pattern.Late: lateBy})
	// What a section leaves between rows is one piece of ground with what opens between them: told once.
	add("a section never down, rows turn", "widths logged", Driving{Section: AllRows, SectionWidth: neverPut, Fan: fan}, 0.01, by{pattern.Section: neverPut})
	// None of many rows.
	add("one row aside", often, Driving{Aside: asideRow, AsideBy: asideBy}, 0, nil)
	add("a row left out", often, Driving{Omitted: omittedRow}, 0, nil)
	add("a section lifted for a while", often, Driving{Section: sectionRow, SectionFrom: sectionFrom, SectionOver: sectionOver, SectionWidth: sectionLifted}, 0, nil)
	add("lifted anywhere, as much ground as late in the north", often, Driving{Lifts: 14, LiftOver: late}, 0, nil)
	// No fault.
	for _, log := range []string{seldom, "fixed, 5 Hz, trailed", "fixed, 2 cm white, 5 Hz, mounted", "differential, 1 Hz, mounted"} {
		add("no fault: "+log, log, Driving{}, 0, nil)
	}
	return all
}

// Told says of the patterns of a day whether each wanted one is among them by its figure, and whether there is any that is none of these.
func (k Known) Told(patterns []pattern.Pattern) (found, falsely bool) {
	seen := map[pattern.Kind]bool{}
	for _, p := range patterns {
		by, wanted := k.Want[p.Kind]
		if !wanted || seen[p.Kind] || !(math.Abs(p.By-by) <= k.Within*by) {
			falsely = true
			continue
		}
		seen[p.Kind] = true
	}
	return len(seen) == len(k.Want), falsely
}

// twice is how many strips have more ground in patterns than there is of them: it was told twice.
func twice(r coverage.Result) (n int) {
	told := map[int]float64{}
	for _, p := range r.Patterns {
		for i, s := range p.Strips {
			told[s] += p.Ground[i]
		}
	}
	for _, s := range r.Strips {
		if told[s.Number] > s.Area*(1+1e-9) {
			n++
		}
	}
	return n
}

// KnownTable writes what outcomes of known days come to, a row each, and beneath them what the columns are.
func KnownTable(w io.Writer, of func(Situation) []Outcome) error {
	var b strings.Builder
	b.WriteString("| day | seeds | wanted | found | told falsely | ground told twice | else, by seeds | below |\n|---|---|---|---|---|---|---|---|\n")
	for _, k := range Knowns() {
		all := of(k.Situation)
		if len(all) == 0 {
			continue
		}
		found, falsely, doubled := 0, 0, 0
		others := map[string][]string{}
		for _, o := range all {
			f, wrong := k.Told(o.Patterns)
			if f {
				found++
			}
			if wrong {
				falsely++
			}
			if o.Twice > 0 {
				doubled++
			}
			if !f || wrong {
				said := []string{}
				for _, p := range o.Patterns {
					said = append(said, fmt.Sprintf("%s %.3g", p.Kind, p.By))
				}
				said = append(said, []string{"nothing"}[min(1, len(said)):]...)
				s := strings.Join(said, " and ")
				others[s] = append(others[s], fmt.Sprint(o.Seed))
			}
		}
		var wanted, other []string
		for _, kind := range slices.Sorted(maps.Keys(k.Want)) {
			wanted = append(wanted, fmt.Sprintf("%s %.3g", kind, k.Want[kind]))
		}
		for _, s := range slices.Sorted(maps.Keys(others)) {
			at := others[s]
			if n := len(at); n > 3 {
				at = []string{fmt.Sprintf("%d of them", n)}
			}
			other = append(other, s+" ("+strings.Join(at, ", ")+")")
		}
		if n := len(other); n > 4 {
			other = append(other[:4], fmt.Sprintf("and %d more", n-4))
		}
		n := len(all)
		fmt.Fprintf(&b, "| %s | %d | %s | %s | %s | %d | %s | %s |\n", k.Name, n, strings.Join(wanted, ", "), percentOf(found, n, len(k.Want) > 0), percentOf(falsely, n, true), doubled,
			strings.Join(other, "; "), strings.Join(belowKnown(found, falsely, doubled, n, len(k.Want) > 0), ", "))
	}
	b.WriteString(`
*found*: days on which every wanted pattern is told, by its figure (m, or m in a metre of way; see Known.Within); *told falsely*: days with a pattern that is not wanted, or by another
figure; *else*: what was said on the days of either. Bars: found on 95 % and more, told falsely on 1 % at most, no ground in two patterns.
`)
	_, err := io.WriteString(w, b.String())
	return err
}

func percentOf(n, of int, any bool) string {
	if !any {
		return ""
	}
	return fmt.Sprintf("%.1f %%", 100*share(n, of))
}

// belowKnown are the bars that a row does not reach.
func belowKnown(found, falsely, doubled, n int, wanted bool) (out []string) {
	if wanted && share(found, n) < foundLeast {
		out = append(out, "found")
	}
	if share(falsely, n) > 0.01 {
		out = append(out, "falsely")
	}
	if doubled > 0 {
		out = append(out, "twice")
	}
	return out
}
