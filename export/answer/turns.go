package answer

import (
	"math"

	"balk/coverage/turn"
	"balk/export/words"
)

// Turns says whether a set can turn with so wide a headland (m): into the next row, and else what is quickest where rows are left
// for later. All is as turn.Table has it.
func Turns(l words.Language, all []turn.Pattern, headland float64) []string {
	var out []string
	for _, next := range all[:min(1, len(all))] {
		switch {
		case next.Best != "":
			out = append(out, l.Say("With %.2f m of headland the set turns into the next row (%s).", headland, turned(l, next)))
		case next.LeastDepth > 0:
			out = append(out, l.Say("With %.2f m of headland the set cannot turn into the next row: that takes %.2f m.", headland, up(next.LeastDepth)))
		default:
			out = append(out, l.Word("The set cannot turn into the next row, whatever the headland."))
		}
	}
	var quickest *turn.Pattern
	for i := range all {
		if p := &all[i]; p.Best != "" && (quickest == nil || best(*p).Time < best(*quickest).Time) {
			quickest = p
		}
	}
	switch {
	case quickest == nil && len(all) > 1:
		out = append(out, l.Say("Nor does it where up to %s are left for later.", l.Count(all[len(all)-1].Skip, "row")))
	case quickest != nil && quickest.Skip > 0:
		out = append(out, l.Say("It is quickest with %s left between for later (%s), which fits from %.2f m on.", l.Count(quickest.Skip, "row"), turned(l, *quickest), up(quickest.LeastDepth)))
	}
	return out
}

// RowEnds says at how many row ends of a field the set cannot turn, and what headland all of them need.
func RowEnds(l words.Language, e turn.Ends, least turn.Least) string {
	later := 0
	for _, one := range e.Ends {
		if one.WayOut != nil && one.WayOut.Skip > 0 {
			later++
		}
	}
	var s string
	switch {
	case e.Infeasible == 0:
		return l.Say("On this field all %d row ends fit.", len(e.Ends))
	case least.Found:
		s = l.Say("On this field %d of %d row ends do not fit; all do from %.2f m of headland on, which takes %.0f %% of the field instead of %.0f %%", e.Infeasible, len(e.Ends), up(least.Depth), 100*least.Ends.HeadlandShare, 100*e.HeadlandShare)
	default:
		s = l.Say("On this field %d of %d row ends do not fit, and no headland up to %.1f m makes them all fit", e.Infeasible, len(e.Ends), least.Limit)
	}
	if later > 0 {
		s += l.Say("; where rows are left for later, %d of them fit as it is", later)
	}
	return s + "."
}

// best is the turn that Best names.
func best(p turn.Pattern) turn.Turn {
	for _, t := range p.Turns {
		if t.Kind == p.Best {
			return t
		}
	}
	return turn.Turn{}
}

// turned is the best turn of a pattern, and how long it takes.
func turned(l words.Language, p turn.Pattern) string {
	if s := best(p).Time; s > 0 {
		return l.Say("%s, %.0f s", l.Word(string(p.Best)), s)
	}
	return l.Word(string(p.Best))
}

// up is a depth that is needed, in whole centimetres.
func up(depth float64) float64 {
	const dust = 1e-6 // cm, of the arithmetic
	return math.Ceil(100*depth-dust) / 100
}
