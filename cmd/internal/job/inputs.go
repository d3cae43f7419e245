package job

import (
	"context"
	"errors"
	"time"

	"balk/geo"
	"balk/geo/read"

	"github.com/paulmach/orb"
)

// inputs are what a job reads: the fields of a file, the one chosen (the zero one: where the log lies), what was driven, in order, and the
// patches of Target.
type inputs struct {
	field   geo.Field
	fields  []geo.Field
	tracks  []geo.Track
	patches []geo.Field
	hasty   bool // nobody asks what going back wins
}

// inputs reads the boundary and the tracks.
func (r *Report) inputs(ctx context.Context, call *Call) (inputs, error) {
	call.step("reading boundaries", 0, r.Spec.steps())
	fields, findings, err := call.fields(ctx, r.Spec.Boundary, r.Spec.Reading)
	r.Findings = append(r.Findings, findings...)
	if err != nil {
		return inputs{}, sorted(r.turnedAbout(ctx, call, err))
	}
	var field geo.Field
	if r.Spec.Field != "" || len(fields) == 1 {
		if field, err = choose(fields, r.Spec.Field, r.Spec.Boundary); err != nil {
			return inputs{}, err
		}
	}
	in, err := r.driven(ctx, call)
	if unused := r.Spec.Taking.Unused(r.Findings); unused != nil && err == nil {
		r.Findings = append(r.Findings, *unused)
	}
	in.field, in.fields = field, fields
	return in, err
}

// driven reads what was driven, and the patches of Target: with the boundaries, which are read before, all files that may hold a layer
// which the call names.
func (r *Report) driven(ctx context.Context, call *Call) (in inputs, err error) {
	if in.patches, err = r.patches(ctx, call); err != nil {
		return inputs{}, err
	}
	if in.tracks, err = r.tracks(ctx, call); err != nil {
		return inputs{}, err
	}
	return in, call.met(r.Spec.Reading)
}

// tracks reads the tracks.
func (r *Report) tracks(ctx context.Context, call *Call) ([]geo.Track, error) {
	options, err := r.Spec.trackOptions(call)
	if err != nil {
		return nil, err
	}
	var tracks []geo.Track
	for i, path := range r.Spec.Tracks {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		call.step("reading "+path, 1+i, r.Spec.steps())
		t, findings, err := found(ctx, func() ([]geo.Track, []geo.Finding, error) { return read.Tracks(path, options) })
		r.Findings = append(r.Findings, findings...)
		if err != nil {
			return nil, sorted(err)
		}
		tracks = append(tracks, numbered(t, len(tracks))...)
	}
	return r.driving(tracks)
}

// worked sets aside what of the tracks cannot be true, and gives the field with the one operation driven on it.
func (r *Report) worked(ctx context.Context, in inputs) (geo.Field, []geo.Track, error) {
	field, tracks, err := r.share(in.field, in.fields, in.tracks)
	if err != nil {
		return geo.Field{}, nil, err
	}
	r.Field = FieldName{field.Name, field.Number, r.Spec.Boundary}
	if err := r.Spec.credible(field); err != nil {
		return geo.Field{}, nil, err
	}
	for _, t := range tracks {
		r.Fixes += t.Fixes()
	}
	if tracks, err = r.operation(field, r.clean(tracks)); err != nil {
		return geo.Field{}, nil, err
	}
	if err := swapped([]geo.Field{field}, tracks); err != nil {
		return geo.Field{}, nil, err
	}
	if field, tracks, err = r.correct(ctx, field, tracks); err != nil {
		return geo.Field{}, nil, err
	}
	return field, r.frame(field, tracks), nil
}

// SetAside is a run of fixes of one track that cannot be true, in words for the
// report: see geo.Clean.
type SetAside struct {
	File  string     `json:"file"`
	Track int        `json:"track"` // of that file, from 1
	Why   geo.Fault  `json:"why"`
	First int        `json:"first"` // number of its first fix, from 1
	Fixes int        `json:"fixes"` // 0: a note, nothing was set aside
	From  time.Time  `json:"from,omitzero"`
	To    time.Time  `json:"to,omitzero"`
	At    *orb.Point `json:"at,omitempty"`  // lon, lat of the first; absent: no place on earth
	Off   float64    `json:"off,omitempty"` // m, thrown off by up to
	By    float64    `json:"by,omitempty"`  // s, clock ahead (> 0) or behind
}

// clean sets aside what of the tracks cannot be true.
func (r *Report) clean(tracks []geo.Track) []geo.Track {
	kept := make([]geo.Track, 0, len(tracks))
	for i, raw := range tracks {
		t, aside := geo.Clean(raw)
		r.Findings = append(r.Findings, geo.Findings(raw, raw.Record(i), aside)...)
		for _, s := range aside {
			one := SetAside{File: raw.Source, Track: raw.Record(i), Why: s.Why, First: s.First + 1, Fixes: s.Fixes, From: s.From, To: s.To, Off: s.Off, By: s.By}
			if s.Placed() {
				one.At = &s.At
			}
			r.SetAside = append(r.SetAside, one)
		}
		kept = append(kept, t)
	}
	return kept
}

// sorted tells the readers' faults of the call from faults of the data.
func sorted(err error) error {
	var call *read.CallError
	if errors.As(err, &call) {
		return &WrongCall{err}
	}
	return err
}

// numbered gives the tracks of each file one number, greater than those given so far, and
// each its own within the file.
func numbered(tracks []geo.Track, from int) []geo.Track {
	of, count := map[string]int{}, map[string]int{}
	for i := range tracks {
		n, known := of[tracks[i].Source]
		if !known {
			n = from + i
			of[tracks[i].Source] = n
		}
		tracks[i].Came.Log = n
		count[tracks[i].Source]++
		tracks[i].Number = count[tracks[i].Source]
	}
	return tracks
}
