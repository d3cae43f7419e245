package plan

import (
	"balk/coverage"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"testing"
	"time"
)

func TestFaults(t *testing.T) {
	fields := realFields(t)
	for _, i := range []int{111} {
		b, err := Best(t.Context(), fields[i], mounted(6), Options{Speed: 8}, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		p := b.Plan
		box := plane.EmptyBox()
		for _, poly := range p.Field {
			for _, r := range poly {
				box = box.Extend(r...)
			}
		}
		l := recorder{origin: box.Min.Lerp(box.Max, 0.5), plan: &p}
		track, _ := l.track()
		w := coverage.Work{Headland: p.Depth, Working: coverage.EvidenceLogged, GapDist: 1e4, GapTime: 86400}.With(p.Implement)
		w.Mount = rig.Mount{}
		t0 := time.Now()
		r, err := coverage.Check(t.Context(), l.field(), []geo.Track{track}, w)
		t.Log(time.Since(t0), r.Fixes, len(r.Strips), r.Slivers, r.SliverArea, len(r.Layers.Missed), len(fields[i][0][0]), b.Candidate.Rounds)
		for k, s := range r.Layers.Missed {
			if k < 20 {
				t.Log(len(s), len(s[0]), s.Area(), s[0].Perimeter(), s[0].Bounds())
			}
		}
	}
}
