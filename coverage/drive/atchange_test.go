package drive

import (
	"slices"
	"testing"

	"balk/geo"
)

func TestHeldStates(t *testing.T) {
	const w, l, u = geo.Working, geo.Lifted, geo.StateUnknown
	repeated := func(times int, of ...geo.WorkState) (out []geo.WorkState) {
		for range times {
			out = append(out, of...)
		}
		return out
	}
	for _, c := range []struct {
		name    string
		of      []geo.WorkState
		changes int
		want    []geo.WorkState // nil: as it is
	}{
		{"written where it changes", append([]geo.WorkState{u, u}, repeated(6, w, u, u, l, u)...), 12, append([]geo.WorkState{l, l}, repeated(6, w, w, w, l, l)...)},
		{"lifted first", append([]geo.WorkState{u}, repeated(5, l, u, w, u, u)...), 10, append([]geo.WorkState{w}, repeated(5, l, l, w, w, w)...)},
		{"too few changes", repeated(4, w, u, u, l, u), 0, nil},
		{"one is written twice", append(repeated(6, w, u, u, l, u), u, u, l), 0, nil},
		{"known at most fixes", repeated(6, w, l, w, l, u), 0, nil},
		{"at every fix", repeated(6, w, l), 0, nil},
		{"never", repeated(30, u), 0, nil},
		{"none is logged", nil, 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := slices.Clone(c.of)
			got, changes, ok := heldStates(c.of)
			if ok != (c.want != nil) || changes != c.changes || !slices.Equal(got, c.want) {
				t.Errorf("%v, %d changes, %v, want %v, %d", got, changes, ok, c.want, c.changes)
			}
			if !slices.Equal(before, c.of) {
				t.Errorf("the track's own states were changed: %v", c.of)
			}
		})
	}
}
