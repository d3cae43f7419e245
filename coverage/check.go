package coverage

import (
	"context"
	"fmt"
	"slices"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/coverage/pattern"
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
func Check(ctx context.Context, f geo.Field, tracks []geo.Track, w drive.Work) (Result, error) {
	if err := w.Validate(); err != nil {
		return Result{}, err
	}
	local := f.Local()
	field := f.OnPlane(local)
	if area := ground.AreaOf(field); !(area > 0) {
		return Result{}, fmt.Errorf("field %q: boundary holds %.6g m²: must be above 0 m²", f.Name, area)
	}
	log, w, err := Driven(ctx, field, local, tracks, w)
	if err != nil {
		return Result{}, fmt.Errorf("path: %w", err)
	}
	sections, whole := sectionsOpen(tracks, w)
	if log.Lag == (drive.Lag{}) && !slices.ContainsFunc(log.Stretches, func(s drive.Stretch) bool { return s.Doubtful }) {
		tracks = nil // they are not read again, see lagOf and doubtOf: a seventh of all memory, where the caller lets go of them too
	}
	laid, err := ground.Lay(ctx, field, field, log.Runs, log.LiftedLines, w, true)
	if err != nil {
		return Result{}, err
	}
	r := Result{Field: f, Local: local, Work: w, Bar: log.Bar, Balance: laid.Balance, FullMissed: laid.FullMissed, Headland: laid.Headland,
		Crab: log.Crab, Fixes: log.Fixes, Used: log.Used, Log: log.Stretches, LiftedLines: log.LiftedLines, Layers: laid.Layers,
		Findings: log.Findings, Crossings: laid.Crossings}
	for k := range log.Runs {
		log.Runs[k].Pass.Area = laid.Areas[k]
		r.Passes = append(r.Passes, log.Runs[k].Pass)
	}
	r.Open.Sections, r.Open.Whole = sections, whole
	r.Effort = effortOf(r.Log, r.Balance, w)
	var contacts []pattern.Contact
	var alongside []joinSpacings
	if r.Spacing, contacts, alongside, err = spacingOf(ctx, log.Runs, w); err != nil {
		return Result{}, fmt.Errorf("spacing: %w", err)
	}
	r.tell(log.Runs, log.White)
	var rim plane.Edges // of the field
	rim.AddPolygons(field)
	if err := r.findStrips(ctx, laid, &rim, log.Runs); err != nil {
		return Result{}, fmt.Errorf("missed strips: %w", err)
	}
	if r.Zones, err = ground.ZonesOf(ctx, r.Layers.Field, r.Layers, w); err != nil {
		return Result{}, fmt.Errorf("zones: %w", err)
	}
	if r.Open.Lag, err = r.lagOf(ctx, tracks, log.Lag); err != nil {
		return Result{}, fmt.Errorf("as row ends have it: %w", err)
	}
	if r.Open.Ends, err = r.endsOf(ctx, log.Runs); err != nil {
		return Result{}, fmt.Errorf("with other ends of rows: %w", err)
	}
	if r.Open.Steps, err = r.stepsOf(ctx, log.Runs); err != nil {
		return Result{}, fmt.Errorf("with other ends of rows in their steps: %w", err)
	}
	if r.Open.Aside, err = r.asideOf(ctx, log.Runs); err != nil {
		return Result{}, fmt.Errorf("with the bar aside: %w", err)
	}
	if r.Open.Frame, err = r.frameOf(ctx, &rim, log.Runs); err != nil {
		return Result{}, fmt.Errorf("in the other frame: %w", err)
	}
	if r.Ribbons, err = r.ribbonsOf(ctx, log.Runs); err != nil {
		return Result{}, fmt.Errorf("ribbons between sweeps: %w", err)
	}
	r.sloped(log.Runs)
	r.Trodden = r.trodden(log.Runs)
	r.Turns = drive.Turns(r.Log, r.Local, w)
	if r.Doubt, err = r.doubtOf(ctx, tracks); err != nil {
		return Result{}, fmt.Errorf("doubtful stretches the other way: %w", err)
	}
	r.span()
	r.Patterns = r.patterns(&rim, log.Runs, contacts)
	r.Spacing.Laps = r.laps(alongside)
	return r, nil
}
