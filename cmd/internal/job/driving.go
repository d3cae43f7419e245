package job

import (
	"fmt"

	"balk/geo"
)

// driving makes of the tracks as they stood in their files the way driven: fixes and tracks in the order of
// time, points of one time as one bar, and what is told twice once.
func (r *Report) driving(tracks []geo.Track) ([]geo.Track, error) {
	var kept []geo.Track
	tracks, odd, err := geo.Bars(tracks)
	if err != nil {
		return nil, err
	}
	number := numbers(tracks)
	for i, t := range tracks {
		t, found := geo.InOrder(t, number[i])
		if odd = append(odd, found...); t.Fixes() > 0 {
			kept = append(kept, t)
		}
	}
	kept, twice := geo.Once(kept, r.Spec.machineNear())
	for _, t := range twice {
		odd = append(odd, t.Finding())
	}
	kept, moved := geo.ByTime(kept)
	if moved {
		odd = append(odd, geo.Finding{File: sources(kept), What: "the tracks were given in another order than that of their times: taken in the order of time"})
	}
	r.Findings = append(odd, r.Findings...) // what the log as a whole is, stands in front
	if len(kept) == 0 && len(odd) > 0 {
		return nil, fmt.Errorf("no track can be used: %s", odd[0])
	}
	return kept, nil
}

// numbers are those of tracks in their files, from 1; 0 for one that is alone in its file.
func numbers(tracks []geo.Track) []int {
	of := make([]int, len(tracks))
	all := map[string]int{}
	for i, t := range tracks {
		all[t.Source]++
		of[i] = all[t.Source]
	}
	for i, t := range tracks {
		if all[t.Source] == 1 {
			of[i] = 0
		}
	}
	return of
}

// Two sets that work side by side are a working width apart, so the ways of two devices on one machine are
// told from theirs by less than half of that. maxNear is about what a phone's place is off; minNear is for widths
// given in jest (common practice, no source).
const minNear, maxNear = 1.0, 5.0 // m

func (s Spec) machineNear() float64 {
	if s.Work.Width == 0 { // not known yet
		return maxNear / 2
	}
	return min(max(s.Work.Width/2, minNear), maxNear)
}
