package job

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"balk/coverage/drive"
	"balk/geo"
)

// turnReach is how far beyond the boundary a set turns at least, and turnWidths
// how many working widths a wide one does (common practice, no source).
const (
	turnReach  = 20.0 // m
	turnWidths = 2.0
)

// severalFields is the error of a log that lies on several fields, none of which is chosen.
type severalFields struct{ what string }

func (e *severalFields) Error() string { return e.what }

// Several says whether an error is that of logs of several fields or operations, of which Each judges one by one.
func Several(err error) bool {
	_, fields := errors.AsType[*severalFields](err)
	_, operations := errors.AsType[*several](err)
	return fields || operations
}

// share shares the tracks out among the fields of the boundary file: by the
// field their own file names, else by place. It gives the part driven on field.
// A field without a boundary is not chosen yet: then it is the only one worked on.
func (r *Report) share(field geo.Field, fields []geo.Field, tracks []geo.Track) (geo.Field, []geo.Track, error) {
	if len(fields) == 1 {
		return field, tracks, nil
	}
	on, between := r.shares(fields, tracks)
	fixes := make([]int, len(fields))
	for _, of := range on {
		for _, f := range of {
			if f != geo.Nowhere {
				fixes[f]++
			}
		}
	}
	all := between
	worked := 0
	own := slices.IndexFunc(fields, func(f geo.Field) bool { return f.Number == field.Number })
	for i, n := range fixes {
		all += n
		if n > 0 {
			worked++
			if field.Boundary == nil {
				own = i
			}
		}
	}
	if worked == 0 && field.Boundary == nil {
		return field, nil, inputs{fields: fields, tracks: tracks}.nowhere()
	}
	if worked == 0 {
		if err := swapped(fields, tracks); err != nil {
			return field, nil, err
		}
	}
	if field.Boundary == nil && worked != 1 {
		return field, nil, &WrongCall{&severalFields{fmt.Sprintf("%s holds %d fields, the log lies on %d of them, and none is chosen (%s):\n%s",
			r.Spec.Boundary, len(fields), worked, howToChoose, list(fields, fixes))}}
	}
	field = fields[own]
	if all == 0 || worked == 0 {
		return field, tracks, nil // nothing to share; what is wrong with it is said further on
	}
	if fixes[own] == 0 {
		return field, nil, fmt.Errorf("none of the %d fixes lies on field %q; the log lies on:\n%s", all, field.Name, list(fields, fixes))
	}
	if fixes[own] == all {
		return field, tracks, nil
	}
	var kept []geo.Track
	for i, t := range tracks {
		if t = t.Cut(func(k int) bool { return on[i][k] == own }, true); t.Fixes() > 0 {
			kept = append(kept, t)
		}
	}
	r.Findings = append(r.Findings, geo.Finding{File: sources(tracks), What: shared(fields, fixes, own, between, all)})
	return field, kept, nil
}

// shares says on which field every fix of every track was driven: an index of fields, or Nowhere, of which between is the number.
func (r *Report) shares(fields []geo.Field, tracks []geo.Track) (on [][]int, between int) {
	return r.sharesOn(geo.NewFieldMap(fields), fields, tracks)
}

// sharesOn is shares with a map of the fields that is there already.
func (r *Report) sharesOn(m *geo.FieldMap, fields []geo.Field, tracks []geo.Track) (on [][]int, between int) {
	on = make([][]int, len(tracks))
	width := r.Spec.Work.Width
	if width == 0 { // to be taken from the log
		width = drive.WholeLogged(tracks)
	}
	reach := max(turnReach, turnWidths*width)
	for i, t := range tracks {
		named := slices.IndexFunc(fields, func(f geo.Field) bool { return t.FieldRef != "" && f.Name == t.FieldRef })
		if named >= 0 {
			on[i] = slices.Repeat([]int{named}, t.Fixes())
			continue
		}
		on[i] = m.Share(t, reach)
		for _, f := range on[i] {
			if f == geo.Nowhere {
				between++
			}
		}
	}
	return on, between
}

// shared says how a log was shared out.
func shared(fields []geo.Field, fixes []int, own, between, all int) string {
	var elsewhere []string
	for i, n := range fixes {
		if i != own && n > 0 {
			elsewhere = append(elsewhere, fmt.Sprintf("%d on %q", n, fields[i].Name))
		}
	}
	if between > 0 {
		elsewhere = append(elsewhere, fmt.Sprintf("%d on the way between fields", between))
	}
	return fmt.Sprintf("%d of %d fixes were driven on %q; left out: %s", fixes[own], all, fields[own].Name, strings.Join(elsewhere, ", "))
}

// mostSources is how many files a note of several names.
const mostSources = 3

// sources are the files of some tracks, of many the first and how many there are.
func sources(tracks []geo.Track) string {
	var names []string
	for _, t := range tracks {
		if !slices.Contains(names, t.Source) {
			names = append(names, t.Source)
		}
	}
	if len(names) > mostSources+1 {
		return fmt.Sprintf("%s … (%d)", strings.Join(names[:mostSources], ", "), len(names))
	}
	return strings.Join(names, ", ")
}
