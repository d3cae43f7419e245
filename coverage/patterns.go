package coverage

import (
	"math"
	"slices"

	"balk/coverage/drive"
	"balk/coverage/pattern"
	"balk/geo/plane"
)

// patterns are those of the strips, where the log can tell strips. Strips of another width than that which worked have in common that they are
// none.
func (r *Result) patterns(rim *plane.Edges, runs []drive.Run, contacts []pattern.Contact) []pattern.Pattern {
	if r.Telling.Strips == GraspNone || r.Spacing.Misfit() {
		return nil
	}
	e := pattern.Evidence{Planned: r.Spacing.Planned, Contacts: contacts, Ends: r.ends(rim, runs)}
	if from := r.Noise.PassErrorFrom; from == fromGiven || from == fromQuality {
		e.Receiver = r.Noise.PassError / drive.In95
	}
	for _, s := range r.Strips {
		e.Strips = append(e.Strips, pattern.Strip{Number: s.Number, Area: s.Area, Passes: s.Passes, Between: s.Cause == CauseDrift || s.Cause == CausePart || s.Cause == CausePoint})
	}
	if o := r.Spacing.Offset; o.Told() {
		e.Aside = &pattern.Pattern{Kind: pattern.Aside, By: o.Right, Doubt: o.Doubt}
	}
	if b := r.Bar; b.Most < b.Width-sectionLeast {
		e.Section = &pattern.Pattern{Kind: pattern.Section, By: b.Width - b.Most, End: upAtEnd(runs, b.Width, b.Most)}
	}
	return pattern.Of(e)
}

// upAtEnd is the end of a bar at which it never worked, by where it did when most of it was down; "" = it is up at neither end alone.
func upAtEnd(runs []drive.Run, width, most float64) string {
	left, right := math.Inf(1), math.Inf(1) // m, what was up at the least
	for _, one := range runs {
		for _, p := range one.Parts {
			if p.Width >= most-sectionLeast/2 {
				r, l := p.Reach()
				left, right = min(left, width/2-l), min(right, width/2+r)
			}
		}
	}
	switch {
	case left > sectionLeast/2 && right <= sectionLeast/2:
		return pattern.LeftEnd
	case right > sectionLeast/2 && left <= sectionLeast/2:
		return pattern.RightEnd
	}
	return ""
}

const (
	// sectionLeast: widths are logged in tenths of a foot, 3 cm; a section is wider.
	sectionLeast = 0.1 // m
	// aheadOf: missed ground ahead of a row's end begins within so much.
	aheadOf = 0.02 // m
	// aheadReach credited widths ahead of a row's end nothing is looked for.
	aheadReach = 4.0
)

// ends are where rows begin and end. Where a tool is lifted on the way, and lowered again farther on, is none; nor is, where rounds of the headland are
// known, an end in its outer half.
func (r *Result) ends(rim *plane.Edges, runs []drive.Run) (out []pattern.End) {
	places := placesOf(r.Strips)
	for k, one := range runs {
		begin, end := one.Stops[0], one.Stops[len(one.Stops)-1]
		if (k == 0 || !goesOn(runs[k-1], one)) && r.rowEnd(rim, begin) {
			out = append(out, r.end(places, one, 0, outOf(one, true), true))
		}
		if (k+1 == len(runs) || !goesOn(one, runs[k+1])) && r.rowEnd(rim, end) {
			out = append(out, r.end(places, one, len(one.Stops)-1, outOf(one, false), false))
		}
	}
	return out
}

// outOf is the direction out of a row at its begin or its end: that of its last metres, so that a wild fix does not turn it.
func outOf(r drive.Run, begin bool) plane.XY {
	const over = 5.0 // m
	n := len(r.Stops)
	at := func(k int) plane.XY { // the k-th from that end on
		if begin {
			return r.Stops[k].At
		}
		return r.Stops[n-1-k].At
	}
	last := at(0)
	for k := 1; k < n-1; k++ {
		if at(k).Dist(last) >= over {
			return last.Sub(at(k)).Unit()
		}
	}
	return last.Sub(at(n - 1)).Unit()
}

// goesOn says whether a pass goes on in the line of the one before it.
func goesOn(before, after drive.Run) bool {
	a, b := before.Stops[len(before.Stops)-1], after.Stops[0]
	out, d := outOf(before, false), b.At.Sub(a.At)
	return before.Trail == after.Trail && out.Dot(outOf(after, true)) < -cos15 && out.Dot(d) > 0 && math.Abs(out.Cross(d)) < before.Parts[a.Part].Width/2
}

func (r *Result) rowEnd(rim *plane.Edges, s drive.Stop) bool {
	depth := r.Work.HeadlandDepth()
	_, dist2 := rim.Nearest(s.At)
	return depth == 0 || math.Sqrt(dist2) > depth/2
}

// end measures the missed ground ahead of a row's end, its stop k, on three lines: the middle one counts.
func (r *Result) end(places *places, one drive.Run, k int, out plane.XY, lowering bool) pattern.End {
	s := one.Stops[k]
	e := pattern.End{Pass: one.Pass.Number, Lowering: lowering, Out: bearingOf(out), Doubt: drive.In95 * one.Switch(k).SD()}
	var gaps [3]float64
	width := one.Parts[s.Part].Width
	for i, share := range [3]float64{0, -1. / 3, 1. / 3} {
		strip, far := places.ahead(s.At.Add(out.Left().Scale(share*width)), out, aheadReach*r.Work.Credited())
		if gaps[i] = far; e.Strip == 0 && strip >= 0 {
			e.Strip = r.Strips[strip].Number
		}
	}
	e.Ground = (gaps[0] + gaps[1] + gaps[2]) / 3 * max(0, width-r.Work.Overlap)
	slices.Sort(gaps[:])
	e.Gap = gaps[1]
	return e
}

// ahead is the strip ahead of a place, and how far it reaches from there, at most so far; -1: none.
func (p *places) ahead(at, out plane.XY, most float64) (strip int, far float64) {
	q := at.Add(out.Scale(aheadOf))
	strip = p.at(q)
	if strip < 0 {
		return strip, 0
	}
	edges := p.edges[strip]()
	line := plane.Segment{A: q, B: q.Add(out.Scale(most))}
	far = most
	for k := range edges.In(line.Box()) {
		if e := edges.At(k).Segment; e.Crosses(line) {
			from, to := out.Cross(e.A.Sub(q)), out.Cross(e.B.Sub(q))
			far = min(far, aheadOf+out.Dot(e.At(from/(from-to)).Sub(q)))
		}
	}
	return strip, far
}
