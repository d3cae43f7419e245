package job

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"balk/cmd/internal/farm"
	"balk/geo"
)

// Fields are those of a file of boundaries, read once for many logs. They may be used from many goroutines.
type Fields struct {
	file   string
	fields []geo.Field
	at     *geo.FieldMap
	of     map[int]int // their places in fields, by number
	sum    string
}

// OpenFields reads a file of boundaries. Errors as Run.
func OpenFields(ctx context.Context, path string, how Reading, call *Call) (*Fields, []geo.Finding, error) {
	fields, findings, err := call.ready().fields(ctx, path, how)
	if err != nil {
		return nil, findings, sorted(err)
	}
	f := &Fields{file: path, fields: fields, at: geo.NewFieldMap(fields), of: map[int]int{}}
	h := sha256.New()
	for i, one := range fields {
		f.of[one.Number] = i
		fmt.Fprintf(h, "%d %q %q %v\n", one.Number, one.Name, one.Frame, one.Boundary)
	}
	f.sum = hex.EncodeToString(h.Sum(nil))
	return f, findings, nil
}

// Field is the field of a number.
func (f *Fields) Field(number int) (geo.Field, bool) {
	i, ok := f.of[number]
	if !ok {
		return geo.Field{}, false
	}
	return f.fields[i], true
}

// Choose is the field that is meant by its number or name.
func (f *Fields) Choose(want string) (geo.Field, error) { return choose(f.fields, want, f.file) }

// Sum is a hash of all fields.
func (f *Fields) Sum() string { return f.sum }

// Driven is what a log has of one field, without a break longer than a night's.
type Driven struct {
	Field int       `json:"field"` // its number
	From  time.Time `json:"from,omitzero"`
	To    time.Time `json:"to,omitzero"` // no times: the log says none
	Fixes int       `json:"fixes"`
}

// Driven tells on which fields the logs of s were driven, and when, by field and time; and who says to have worked with what. None: they
// lie on no field. Errors as Run.
func (f *Fields) Driven(ctx context.Context, s Spec, call *Call) (all []Driven, told geo.Told, err error) {
	r := Report{Spec: s}
	in, err := r.driven(ctx, call.ready())
	if err != nil {
		return nil, geo.Told{}, err
	}
	tracks := in.tracks
	told = toldBy(tracks)
	on, _ := r.sharesOn(f.at, f.fields, tracks)
	driven := map[int]bool{}
	for _, of := range on {
		for _, field := range of {
			driven[field] = true
		}
	}
	delete(driven, geo.Nowhere)
	if len(driven) == 0 {
		return nil, told, swapped(f.fields, tracks)
	}
	for _, i := range slices.Sorted(maps.Keys(driven)) {
		field := f.fields[i]
		mine := onlyOn(tracks, on, i)
		sessions, _ := geo.Sessions(mine, minNear*3, field.Boundary.Bound())
		for _, s := range sessions {
			all = append(all, Driven{field.Number, s.From, s.To, s.Fixes})
		}
		if len(sessions) == 0 {
			one := Driven{Field: field.Number}
			for _, t := range mine {
				one.Fixes += t.Fixes()
			}
			all = append(all, one)
		}
	}
	return all, told, nil
}

// onlyOn is what of tracks was driven on one field.
func onlyOn(tracks []geo.Track, on [][]int, field int) (mine []geo.Track) {
	for i, t := range tracks {
		if !slices.Contains(on[i], field) {
			continue
		}
		mine = append(mine, t.Cut(func(k int) bool { return on[i][k] == field }, true))
	}
	return mine
}

// Each is Each for one field only, by its number, of which s names the logs.
func (f *Fields) Each(ctx context.Context, s Spec, number int, call *Call) (EachReport, error) {
	call = call.ready()
	rep := EachReport{Operations: []Judged{}, Findings: []geo.Finding{}}
	if err := s.Validate(); err != nil {
		return rep, &WrongCall{err}
	}
	own, known := f.of[number]
	if !known {
		return rep, wrong("%s holds no field number %d", f.file, number)
	}
	read := Report{Spec: s}
	in, err := read.driven(ctx, call)
	rep.Findings = append(rep.Findings, read.Findings...)
	if err != nil {
		return rep, err
	}
	on, _ := read.sharesOn(f.at, f.fields, in.tracks)
	in.field, in.fields, in.tracks = f.fields[own], f.fields[own:own+1], onlyOn(in.tracks, on, own)
	if len(in.tracks) == 0 {
		return rep, fmt.Errorf("the tracks do not lie on field %d of %s", number, f.file)
	}
	return rep, rep.judge(ctx, s, in, true, call)
}

// Beside are the files that s names beside boundaries and logs.
func (s Spec) Beside() (paths []string) {
	for _, path := range []string{s.Plan, s.Weather.File, s.Target.File()} {
		if path != "" {
			paths = append(paths, path)
		}
	}
	if s.Farm != "" && HasFarm(s.Farm) {
		paths = append(paths, filepath.Join(s.Farm, farm.File))
	}
	return paths
}

// Content is the SHA-256 of what is read at a path: of a file, or of all files of a folder of task data or of a shapefile with their
// names.
func (c *Call) Content(path string) (string, error) {
	dir, all, err := filesOf(path)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	single := len(all) == 0
	if single {
		all = []string{path}
	}
	for _, one := range all {
		if !single {
			name, err := filepath.Rel(dir, one)
			if err != nil {
				return "", err
			}
			h.Write([]byte(strconv.Quote(filepath.ToSlash(name))))
		}
		file, err := c.ready().opened.Open(one)
		if err != nil {
			return "", err
		}
		n, err := io.Copy(h, file)
		if err = cmp.Or(err, file.Close()); err != nil {
			return "", err
		}
		if !single {
			fmt.Fprintf(h, " %d\n", n)
		}
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// toldBy is who says to have worked with what for whom, by the first tracks that do.
func toldBy(tracks []geo.Track) (told geo.Told) {
	for _, t := range tracks {
		told.Machine, told.Driver, told.Farm = cmp.Or(told.Machine, t.Told.Machine), cmp.Or(told.Driver, t.Told.Driver), cmp.Or(told.Farm, t.Told.Farm)
	}
	return told
}
