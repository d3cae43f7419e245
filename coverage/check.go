package coverage

import (
	"context"
	"fmt"

	"balk/geo"
	"balk/geo/plane"
)

// Check works out what the tracks of one operation left of the field: missed,
// unknown, worked once, twice or more, outside, what the headland cost, and
// every missed strip. It satisfies
//
//  1. field = missed + unknown + once + twice + more, else it is an error;
//  2. shifting, turning or mirroring field and tracks, reading a track
//     backwards, splitting it at a fix, lifting the tool there for no metre, or cutting it into
//     files there or between two fixes (where follows sees it go on), changes no area by more than 1e-9 of the field
//     (backwards: as long as work is not inferred and no set is modelled); nor do more or fewer fixes on
//     the straights of a drawn line, as long as they stand clear of the slanted bars at its bends;
//  3. a larger overlap never leaves less missed;
//  4. the result does not depend on Work.Workers.
//
// Faults of the call and of the field are errors. Oddities of the tracks are
// findings of the result.
func Check(ctx context.Context, f geo.Field, tracks []geo.Track, w Work) (Result, error) {
	r, got, runs, err := weigh(ctx, f, tracks, w, true)
	if err != nil {
		return Result{}, err
	}
	if err := r.findStrips(ctx, got, runs); err != nil {
		return Result{}, fmt.Errorf("missed strips: %w", err)
	}
	if r.Zones, err = zonesOf(ctx, r.Layers.Field, r.Layers, w); err != nil {
		return Result{}, fmt.Errorf("zones: %w", err)
	}
	if r.Spacing, err = spacingOf(ctx, runs, w); err != nil {
		return Result{}, fmt.Errorf("spacing: %w", err)
	}
	r.Turns = r.turnsOf(r.Log)
	if r.Doubt, err = r.doubtOf(ctx, tracks); err != nil {
		return Result{}, fmt.Errorf("doubtful stretches the other way: %w", err)
	}
	return r, nil
}

// Weigh is Check without strips, zones, spacing, turns and doubt, without the layers but the field,
// and without what is missed at full width: what comparing many plans needs, in a part of
// the time. Everything else is the same.
func Weigh(ctx context.Context, f geo.Field, tracks []geo.Track, w Work) (Result, error) {
	r, _, _, err := weigh(ctx, f, tracks, w, false)
	return r, err
}

// weigh gives what both have, the arrangement and the runs; drawn says whether the layers are wanted.
func weigh(ctx context.Context, f geo.Field, tracks []geo.Track, w Work, drawn bool) (Result, plane.Answer, []run, error) {
	fail := func(what string, err error) (Result, plane.Answer, []run, error) {
		return Result{}, plane.Answer{}, nil, fmt.Errorf("%s: %w", what, err)
	}
	if err := w.Validate(); err != nil {
		return Result{}, plane.Answer{}, nil, err
	}
	local := f.Local()
	field := f.OnPlane(local)
	if !(areaOf(field) > 0) {
		return Result{}, plane.Answer{}, nil, fmt.Errorf("field %q: boundary holds %.6g m²: must be above 0 m²", f.Name, areaOf(field))
	}
	r := Result{Field: f, Local: local, Work: w, Layers: Layers{Field: field}}
	runs, err := r.runsOf(ctx, tracks)
	if err != nil {
		return fail("path", err)
	}
	g := ground{field: field, workers: w.Workers, headland: w.HeadlandDepth() > 0}
	if g.headland {
		if g.core, err = plane.InsetRings(ctx, field, w.HeadlandDepth()); err != nil {
			return fail(fmt.Sprintf("headland of %g m", w.HeadlandDepth()), err)
		}
	}
	full := g // before the credited swaths go in
	if err := r.creditSwaths(ctx, runs, &g); err != nil {
		return fail("swath", err)
	}
	sets := layerSets(g.headland, drawn)
	balance, got, err := g.balance(ctx, sets)
	if err != nil {
		return fail("balance", err)
	}
	r.Balance, r.Crossings = balance, got.Crossings
	g.work = nil // room for the next
	if drawn {
		r.takeLayers(got)
		full.work = fullCover(runs)
		if r.FullMissed, err = full.untouched(ctx); err != nil {
			return fail("missed at full width", err)
		}
	}
	if g.headland { // its missed ground is the last layer
		if r.Headland, err = headlandLoss(ctx, w, got, got.Layers[len(sets)-1], r.LiftedLines); err != nil {
			return fail("headland loss", err)
		}
	}
	r.Effort = effortOf(r.Log, r.Balance, w)
	return r, got, runs, nil
}

// runsOf takes the tracks to passes, and notes what was odd about them.
func (r *Result) runsOf(ctx context.Context, tracks []geo.Track) ([]run, error) {
	trails, findings, err := trailsOf(ctx, r.Local, tracks, r.Work)
	if err != nil {
		return nil, err
	}
	r.Findings = findings
	for _, t := range tracks {
		r.Fixes += t.Fixes()
	}
	scene := sceneOf(r.Field.OnPlane(r.Local), r.Work)
	for _, t := range trails {
		t.antenna, t.compass = t.at, t.facing
	}
	tellings := tell(trails, scene, r.Work, r.lean)
	if err := r.findCrab(trails); err != nil {
		return nil, err
	}
	downhill, crab := r.downhill()
	r.Findings = append(r.Findings, leanFinding(r.Work.Mount, trails)...)
	whole := WholeLogged(tracks)
	r.Findings = append(r.Findings, otherWidth(trails, r.Work, whole)...)
	var runs []run
	for i, t := range trails {
		t.measureBar(whole)
		r.Findings = append(r.Findings, t.place(r.Work.Mount, downhill, crab)...)
		r.Findings = append(r.Findings, t.oddWidths(r.Work)...)
		limit := limitsOf(t, r.Work)
		spans := splitterFor(t)(t)
		merged, gaps, astray := 0, 0, 0
		numbers := make([]int, len(spans))
		var last span // of the pass before
		for k, sp := range spans {
			one, m, ok := runOf(t, sp, limit, r.Work)
			merged += m
			if !ok {
				continue
			}
			one.pass.Number, one.trail = len(runs)+1, i
			if n := len(runs) - 1; n >= 0 && runs[n].trail == i {
				if one.start = runs[n].travelOn(t, last, sp, one.pass.Line[0]); one.start == runs[n].end() {
					seam(&runs[n], &one)
				}
			}
			last = sp
			numbers[k] = one.pass.Number
			r.Used += sp.to - sp.from + 1
			gaps, astray = gaps+one.pass.Gaps, astray+one.astray
			runs = append(runs, one)
		}
		r.takeLog(t, tellings[i], spans, numbers, limit)
		if t.state != nil {
			for _, sp := range liftedSpans(t, spans) {
				r.LiftedLines = append(r.LiftedLines, moving(t.at[sp.from:sp.to+1])...)
			}
		}
		r.note(t, merged, gaps, astray, limit)
	}
	r.Bar = barOf(runs, r.Work, whole)
	return runs, nil
}

// note adds what was done to a trail's fixes.
func (r *Result) note(t *trail, merged, gaps, astray int, l limits) {
	record := t.tracks[0].record
	if merged > 0 {
		r.Findings = append(r.Findings, geo.Finding{File: t.source, Record: record,
			What: fmt.Sprintf("%d of %d fixes nearer than %g m to the one before were merged with it", merged, len(t.at), parked)})
	}
	if astray > 0 {
		r.Findings = append(r.Findings, geo.Finding{File: t.source, Record: record,
			What: fmt.Sprintf("%d of %d logged headings lie more than 45° off the way driven: the way was used instead", astray, len(t.at))})
	}
	if gaps > 0 {
		r.Findings = append(r.Findings, geo.Finding{File: t.source, Record: record,
			What: fmt.Sprintf("log gaps while working: %d (over %.3g m or %.3g s between fixes): the ground between is unknown", gaps, l.dist, l.time)})
	}
}

// moving leaves out the places between which the set stood; a line of fewer than two is none.
func moving(line []plane.XY) [][]plane.XY {
	kept := strides(line, span{0, len(line) - 1})
	if len(kept) < 2 {
		return nil
	}
	out := make([]plane.XY, len(kept))
	for i, k := range kept {
		out[i] = line[k]
	}
	return [][]plane.XY{out}
}

// creditSwaths works out the swaths at credited width, pass by pass.
func (r *Result) creditSwaths(ctx context.Context, runs []run, g *ground) error {
	swaths := make([]swath, len(runs))
	err := Each(ctx, r.Work.Workers, len(runs), func(k int) error {
		var err error
		bars, from := barsUpTo(runs, k, r.Work.Overlap, r.Work.RelapLength())
		swaths[k], err = swathOf(ctx, bars, from, r.Work.RelapLength())
		if err != nil {
			return fmt.Errorf("pass %d: %w", runs[k].pass.Number, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for k, sw := range swaths {
		runs[k].pass.Area = sw.area
		r.Passes = append(r.Passes, runs[k].pass)
		g.swath += sw.area
		g.work = append(g.work, sw.outlines...)
	}
	return nil
}

// fullCover is where the bars went at full working width.
func fullCover(runs []run) []plane.Outline {
	var out []plane.Outline
	for _, one := range runs {
		out = append(out, coverOf(barsOf(one.stops, 0))...)
	}
	return out
}

// takeLayers hands the polygons of the arrangement to the map.
func (r *Result) takeLayers(got plane.Answer) {
	l := &r.Layers
	l.Missed, l.Double, l.Triple = got.Layers[layerMissed], got.Layers[layerDouble], got.Layers[layerTriple]
	l.Outside, l.Unknown = got.Layers[layerOutside], got.Layers[layerUnknown]
	if len(got.Layers) > layerHeadland {
		l.Headland = got.Layers[layerHeadland]
	}
}
