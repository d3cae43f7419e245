package drive

import (
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// TestFlickers: a tool that is up, or down, at a single fix is told with the ground it leaves: at 2 m/s and a fix a second 2 m by the credited width of 5.9 m each, 12 m².
// One that is up for two fixes, or at one of fixes many seconds apart, is a tool that was lifted.
func TestFlickers(t *testing.T) {
	const on, off, no = geo.Working, geo.Lifted, geo.StateUnknown
	w := Work{Width: 6, Overlap: 0.1}
	for _, c := range []struct {
		name   string
		states []geo.WorkState
		every  float64
		breaks []int
		work   Evidence
		want   string
	}{
		{"up at one fix", []geo.WorkState{on, on, off, on, on}, 1, nil, EvidenceAny, "another one at single fixes, up at 1 of them and down at 0 (first: 2026-05-04 06:00:02 UTC): no tool moves so fast, but sections are shut so; taken as logged, which leaves up to 12 m²"},
		{"up at two of them", []geo.WorkState{on, off, on, on, off, on}, 1, nil, EvidenceAny, "another one at single fixes, up at 2 of them and down at 0 (first: 2026-05-04 06:00:01 UTC): no tool moves so fast, but sections are shut so; taken as logged, which leaves up to 24 m²"},
		{"down at one fix", []geo.WorkState{off, off, on, off, off}, 1, nil, EvidenceLogged, "another one at single fixes, up at 0 of them and down at 1 (first: 2026-05-04 06:00:02 UTC): no tool moves so fast, but sections are shut so; taken as logged, which leaves up to 0 m²"},
		{"up at two fixes in a row", []geo.WorkState{on, on, off, off, on, on}, 1, nil, EvidenceAny, ""},
		{"a fix in 3 s", []geo.WorkState{on, on, off, on, on}, 3, nil, EvidenceAny, ""},
		{"at a break", []geo.WorkState{on, on, off, on, on}, 1, []int{3}, EvidenceAny, ""},
		{"a state that is not known", []geo.WorkState{on, on, no, on, on}, 1, nil, EvidenceAny, ""},
		{"between fixes of which it is not known", []geo.WorkState{no, no, off, no, no}, 1, nil, EvidenceAny, ""},
		{"not looked at", []geo.WorkState{on, on, off, on, on}, 1, nil, EvidenceInferred, ""},
	} {
		log := &trail{timed: true, tracks: []trackStart{{0, 0, 1}}, breaks: c.breaks}
		log.State = c.states
		for k := range c.states {
			log.at, log.seconds = append(log.at, plane.XY{Y: 2 * c.every * float64(k)}), append(log.seconds, 1777874400+c.every*float64(k))
		}
		w.Working = c.work
		found := log.flickers(w)
		switch {
		case c.want == "" && len(found) > 0:
			t.Errorf("%s: said %q", c.name, found[0].What)
		case c.want != "" && (len(found) != 1 || !strings.Contains(found[0].What, c.want)):
			t.Errorf("%s: said %v, want %q", c.name, found, c.want)
		}
	}
}
