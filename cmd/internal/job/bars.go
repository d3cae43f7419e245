package job

import (
	"context"
	"fmt"
	"maps"
	"slices"

	"balk/coverage"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/read"
	"balk/geo/workers"
)

// ofBar is s for bar k of its implement alone, from 0.
func (s Spec) ofBar(k int) Spec {
	from := s.Work.WidthFrom
	s.Work, s.bar = s.Work.With(s.Implement.OfBar(k)), k
	s.Work.WidthFrom = from
	return s
}

// theBar is the bar that s is for; the zero one of a set that is one bar.
func (s Spec) theBar() rig.Bar {
	if len(s.Implement.Bars) == 0 {
		return rig.Bar{}
	}
	return s.Implement.Bars[s.bar]
}

// trackOptions say how the tracks are read: of a set with several bars, with the work state of the one that s is for.
func (s Spec) trackOptions(call *Call) (read.TrackOptions, error) {
	zone, err := s.logZone()
	if err != nil {
		return read.TrackOptions{}, &WrongCall{err}
	}
	bar := s.theBar()
	o := read.TrackOptions{Columns: s.Columns, Working: s.WorkingValues, Component: bar.Component, Taking: s.Taking, Files: &call.opened, Zone: zone}
	if bar.State != "" {
		if o.Columns = maps.Clone(s.Columns); o.Columns == nil {
			o.Columns = map[string]string{}
		}
		o.Columns["state"] = bar.State
	}
	return o, nil
}

// bars judges the other bars of a set that has several, and puts all beside each other. in holds what was read for the first.
func (r *Report) bars(ctx context.Context, in inputs, result *coverage.Result, call *Call) error {
	bars := r.Spec.Implement.Bars
	if len(bars) == 0 {
		return nil
	}
	call.step("working out the other bars", 1+len(r.Spec.Tracks), r.Spec.steps())
	all := []coverage.Result{*result}
	for k, bar := range bars[1:] {
		one := Report{Spec: r.Spec.ofBar(k + 1)}
		failed := func(err error) error { return fmt.Errorf("bar %q: %w", bar.Name, err) }
		own := in
		if bar.State != bars[0].State || bar.Component != bars[0].Component {
			tracks, err := one.tracks(ctx, call)
			if err != nil {
				return failed(err)
			}
			own.tracks = tracks
		}
		field, tracks, err := one.worked(ctx, own)
		if err != nil {
			return failed(err)
		}
		if err := one.Spec.settle(tracks); err != nil {
			return failed(err)
		}
		work := one.Spec.Work
		judged, err := workers.Until(ctx, func() (coverage.Result, error) { return coverage.Check(ctx, field, tracks, work) })
		if err != nil {
			return failed(err)
		}
		if judged.Used == 0 {
			r.Findings = append(r.Findings, geo.Finding{What: fmt.Sprintf("bar %q: no work found", bar.Name)})
		}
		for _, f := range slices.Concat(one.Findings, judged.Findings) {
			if !slices.Contains(r.Findings, f) && !slices.Contains(result.Findings, f) {
				f.What = fmt.Sprintf("bar %q: %s", bar.Name, f.What)
				r.Findings = append(r.Findings, f)
			}
		}
		all = append(all, judged)
	}
	b, err := coverage.BarsOf(ctx, all)
	if err != nil {
		return err
	}
	for k := range b.Each {
		b.Each[k].Name, b.Each[k].Behind, b.Each[k].Width = bars[k].Name, bars[k].Behind, all[k].Work.Width
	}
	result.Bars = &b
	return nil
}
