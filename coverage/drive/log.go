package drive

import (
	"context"
	"fmt"
	"slices"

	"balk/geo"
	"balk/geo/plane"
	"balk/geo/workers"
)

// Log is what the tracks of one operation come to.
type Log struct {
	Runs        []Run
	Stretches   []Stretch    // what the set did on every step of the tracks, in order
	LiftedLines [][]plane.XY // where the set went with the tool lifted
	Crab        *Crab        // nil: none given, and not to be measured
	Bar         Bar
	Lag         Lag // zero: row ends agree with the set's description
	Fixes, Used int // fixes read; fixes that became part of a pass
	// m, standard deviation across the way, the greatest of a track: what fixes jump aside by from one to the next. 0: no times
	// are logged, or none is told.
	White    float64
	Findings []geo.Finding
}

// Read takes the tracks of one operation on a field to passes, and notes what was odd about them. The lean is that of
// doubtful stretches.
func Read(ctx context.Context, field []plane.Polygon, local geo.Local, tracks []geo.Track, w Work, lean Lean) (Log, error) {
	trails, findings, err := trailsOf(ctx, local, tracks, w)
	if err != nil {
		return Log{}, err
	}
	r := Log{Findings: findings}
	for _, t := range tracks {
		r.Fixes += t.Fixes()
	}
	for _, t := range trails {
		r.Findings = append(r.Findings, t.unstray(local)...)
		r.Findings = append(r.Findings, t.flickers(w)...)
	}
	scene := sceneOf(field, w)
	settled := slices.ContainsFunc(tracks, func(t geo.Track) bool { return t.Came.States })
	if !settled {
		assumed := assumeWork(trails, scene, w)
		if assumed || w.Working != EvidenceInferred && w.Working != EvidenceAll {
			r.Findings = append(r.Findings, recorded(trails)...)
		}
	}
	for _, t := range trails {
		t.apart = t.timed && limitsOf(t, w).usual >= farApart
		r.Findings = append(r.Findings, t.delay(w, settled)...)
		t.antenna, t.compass = t.at, t.facing
		r.Findings = append(r.Findings, t.steady(w, longWay)...)
	}
	tellings := tell(trails, scene, w, lean)
	for _, t := range trails {
		if t.velocity == nil {
			r.Findings = append(r.Findings, t.steady(w, 0)...)
		}
		t.calm = t.at
		r.White = max(r.White, t.white)
	}
	if r.Crab, err = findCrab(trails, local, w); err != nil {
		return Log{}, err
	}
	slips := r.Crab.slip(local, w)
	var turned turning
	r.Findings = append(r.Findings, leanFinding(w.Mount, trails)...)
	whole := WholeLogged(tracks)
	r.Findings = append(r.Findings, otherWidth(trails, w, whole)...)
	for _, t := range trails {
		t.measureBar(whole)
		r.Findings = append(r.Findings, t.place(w, slips)...)
		turned.way, turned.turned, turned.most = turned.way+t.turned.way, turned.turned+t.turned.turned, max(turned.most, t.turned.most)
		r.Findings = append(append(r.Findings, t.oddWidths(w)...), t.noSides(w)...)
	}
	r.Crab.took(turned, w)
	r.Lag = lagOf(settleSwitches(trails, scene, w), scene, w)
	for i, t := range trails {
		limit := limitsOf(t, w)
		t.rest(limit)
		spans := splitterFor(t)(t)
		merged, gaps, untold, astray := 0, 0, 0, 0
		runs, numbers := make([]*Run, len(spans)), make([]int, len(spans))
		thinned := make([]int, len(spans))
		err := workers.Each(ctx, w.Workers, len(spans), func(k int) error {
			one, m, ok := runOf(t, spans[k], limit, w)
			if thinned[k] = m; ok {
				runs[k] = &one
			}
			return nil
		})
		if err != nil {
			return Log{}, err
		}
		ended := -1 // the last fix of the pass before
		for k, sp := range spans {
			merged += thinned[k]
			if runs[k] == nil {
				continue
			}
			one := *runs[k]
			one.Trail = i
			r.Runs = Append(r.Runs, one, t.at[ended+1:sp.from])
			ended, numbers[k] = sp.to, len(r.Runs)
			r.Used += sp.to - sp.from + 1
			gaps, untold, astray = gaps+one.Pass.Gaps-one.untold, untold+one.untold, astray+one.astray
		}
		r.takeLog(t, tellings[i], spans, numbers, limit, w)
		if t.State != nil {
			for _, sp := range liftedSpans(t, spans) {
				if line := Moving(t.at[sp.from : sp.to+1]); line != nil {
					r.LiftedLines = append(r.LiftedLines, line)
				}
			}
		}
		r.note(t, merged, gaps, untold, astray, limit)
	}
	r.Bar = barOf(r.Runs, w, whole)
	return r, nil
}

// note adds what was done to a trail's fixes.
func (r *Log) note(t *trail, merged, gaps, untold, astray int, l limits) {
	record := t.tracks[0].record
	if merged > 0 {
		r.Findings = append(r.Findings, geo.Finding{File: t.source, Record: record,
			What: fmt.Sprintf("%d of %d fixes nearer than %g m to the one before were merged with it", merged, len(t.at), parked)})
	}
	if astray > 0 {
		r.Findings = append(r.Findings, geo.Finding{File: t.source, Record: record,
			What: fmt.Sprintf("%d of %d logged headings lie more than 45° off the way driven: the way was used instead", astray, len(t.at))})
	}
	if untold > 0 {
		r.Findings = append(r.Findings, geo.Finding{File: t.source, Record: record,
			What: fmt.Sprintf("steps while working without a work state: %d: the ground there is unknown", untold)})
	}
	if gaps > 0 {
		r.Findings = append(r.Findings, geo.Finding{File: t.source, Record: record,
			What: fmt.Sprintf("log gaps while working: %d (over %.3g m or %.3g s between fixes): the ground between is unknown", gaps, l.dist, l.time)})
	}
}

// Moving leaves out the places between which the set stood; a line of fewer than two is none.
func Moving(line []plane.XY) []plane.XY {
	if len(line) < 2 {
		return nil
	}
	kept := strides(line, span{0, len(line) - 1})
	if len(kept) < 2 {
		return nil
	}
	out := make([]plane.XY, len(kept))
	for i, k := range kept {
		out[i] = line[k]
	}
	return out
}
