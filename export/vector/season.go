package vector

import (
	"context"
	"fmt"

	"balk/coverage/season"
	"balk/geo/plane"
)

var togetherColumns = []column[season.Strip]{
	{Property{Name: "strip", Holds: Whole}, func(s season.Strip) any { return s.Number }},
	area(func(s season.Strip) float64 { return s.Area }),
	length(func(s season.Strip) float64 { return s.Length }),
	{Property{Name: "mean_width_m", Short: "mean_w_m", Title: "mean width", Unit: "m", Holds: Number, Decimals: 3}, func(s season.Strip) any { return s.MeanWidth }},
	{Property{Name: "max_width_m", Short: "max_w_m", Title: "greatest width", Unit: "m", Holds: Number, Decimals: 3}, func(s season.Strip) any { return s.MaxWidth }},
	{Property{Name: "bearing_deg", Short: "bearing", Title: "bearing from true north", Unit: "°", Holds: Number, Decimals: 1}, func(s season.Strip) any { return float64(s.Bearing) }},
	{Property{Name: "surety", Title: "how sure", Holds: Words}, func(s season.Strip) any { return suretyOf(s.Surety) }},
	{Property{Name: "certain_m2", Short: "certain_m2", Title: "certainly missed", Unit: "m²", Holds: Number, Decimals: 2}, func(s season.Strip) any { return s.Certain }},
	{Property{Name: "likely_m2", Short: "likely_m2", Title: "likely missed, certain included", Unit: "m²", Holds: Number, Decimals: 2}, func(s season.Strip) any { return s.Likely }},
	{Property{Name: "open_m", Title: "across, operations may lie so far off each other", Unit: "m", Holds: Number, Decimals: 3}, func(s season.Strip) any { return s.Open }},
	{Property{Name: "lon", Title: "longitude", Unit: "°", Holds: Number, Decimals: decimals}, func(s season.Strip) any { return s.At[0] }},
	{Property{Name: "lat", Title: "latitude", Unit: "°", Holds: Number, Decimals: decimals}, func(s season.Strip) any { return s.At[1] }},
}

// SeasonLayers are the layers of a season in the order in which a map stacks them: how long ago ground was cut, where that was asked for; how often
// it was worked; and the strips that all operations missed, and all that do the same.
func SeasonLayers(ctx context.Context, r *season.Result, cut *season.Since) ([]Layer, error) {
	var sources []source
	if cut != nil {
		parts, err := r.WorkedLast(ctx, season.Cuts, *cut)
		if err != nil {
			return nil, fmt.Errorf("days since cut: %w", err)
		}
		last := map[int]season.Last{}
		for _, l := range cut.Last {
			last[l.Operation] = l
		}
		l := Layer{Name: "days_since_cut", Title: "Days since cut", Label: "days", Style: Style{Line: "#8C7A3D", Fill: "#E3CF9B", Cover: 0.5}}
		sources = append(sources, partsSource(r, l, parts,
			column[season.Part]{Property{Name: "days", Title: "days since cut", Holds: Number, Decimals: 1}, func(p season.Part) any { return last[p.Number].Days }},
			column[season.Part]{Property{Name: "operation", Title: "cut last by", Holds: Words}, func(p season.Part) any { return r.Operations[p.Number].Name }}))
	}
	parts, err := r.WorkedTimes(ctx, r.All)
	if err != nil {
		return nil, fmt.Errorf("times worked: %w", err)
	}
	l := Layer{Name: "times_worked", Title: "Times worked", Label: "times", Style: Style{Line: "#5B7A99", Fill: "#5B7A99", Cover: 0.4}}
	sources = append(sources, partsSource(r, l, parts,
		column[season.Part]{Property{Name: "times", Title: "times worked", Holds: Whole}, func(p season.Part) any { return p.Number }},
		column[season.Part]{Property{Name: "of", Title: "of operations", Holds: Whole}, func(season.Part) any { return len(r.All.Operations) }}))
	for _, t := range append([]season.Together{r.All}, r.Each...) {
		l := Layer{Name: "missed_by_all", Title: "Missed by all", Kind: Areas, Label: "strip", Style: Style{Line: "#C2247F", Fill: "#C2247F", Cover: 0.8}, Facts: togetherFacts(t)}
		if t.Component != "" {
			l.Name, l.Title = "never_"+string(t.Component), "Missed by all that does: "+string(t.Component)
		}
		sources = append(sources, listed(l, t.Strips, togetherColumns, func(i int) shape { return shape{local: &r.Local, area: t.Strips[i].Shape} }))
	}
	out := make([]Layer, len(sources))
	for i, s := range sources {
		if out[i], err = s.marked().layer(); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func togetherFacts(t season.Together) []Fact {
	return []Fact{
		{Property{Name: "total_area_m2", Title: "missed in all", Unit: "m²", Holds: Number, Decimals: 2}, t.Missed},
		{Property{Name: "slivers_not_listed", Title: "slivers too narrow to list", Holds: Whole}, t.Slivers},
		{Property{Name: "slivers_area_m2", Title: "their area", Unit: "m²", Holds: Number, Decimals: 2}, t.SliverArea},
		{Property{Name: "possible_not_listed", Title: "strips that are only possible, not listed", Holds: Whole}, t.Possible},
		{Property{Name: "possible_m2", Title: "their area", Unit: "m²", Holds: Number, Decimals: 2}, t.PossibleArea},
	}
}

// partsSource is a layer with a feature for each polygon of some parts.
func partsSource(r *season.Result, l Layer, parts []season.Part, columns ...column[season.Part]) source {
	l.Kind = Areas
	var each []season.Part // of one polygon
	for _, p := range parts {
		for _, one := range p.Ground {
			each = append(each, season.Part{Number: p.Number, Ground: []plane.Polygon{one}})
		}
	}
	columns = append(columns, area(func(p season.Part) float64 { return p.Ground[0].Area() }))
	return listed(l, each, columns, func(i int) shape { return shape{local: &r.Local, area: each[i].Ground[0]} })
}
