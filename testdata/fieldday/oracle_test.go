package fieldday

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo/plane"
)

// TestDrivesDrawnFromALog: of a log without error whose fixes leave nothing open the drive itself is drawn; with fixes a second apart the bar goes
// in and out between the two that saw it; and a strip between two passes is looked for where both of them went.
func TestDrivesDrawnFromALog(t *testing.T) {
	day, err := Drive(Driving{Omitted: omittedRow}, 1)
	if err != nil {
		t.Fatal(err)
	}
	d, rng := day.driven, rand.New(rand.NewPCG(1, 1))
	still := func(int) plane.XY { return plane.XY{} }
	if one := d.drawn(1, still, rng); !slices.Equal(one.bar, d.bar) || !slices.Equal(one.leg, d.leg) {
		t.Error("another drive from a log that leaves nothing open")
	}
	const every = 20
	ends, moved, worked := 0, 0, 0
	one := d.drawn(every, still, rng)
	for k := range d.leg {
		if k%every == 0 && one.leg[k] != d.leg[k] {
			t.Errorf("tick %d: leg %d where the log saw %d", k, one.leg[k], d.leg[k])
		}
		if k > 0 && (d.leg[k] == none) != (d.leg[k-1] == none) {
			if ends++; (one.leg[k] == none) == (one.leg[k-1] == none) {
				moved++
			}
		}
		if one.leg[k] != none {
			worked++
		}
	}
	if ends < 60 || moved < ends/2 {
		t.Errorf("of %d ends of work %d lie elsewhere", ends, moved)
	}
	by := plane.XY{X: 0.3, Y: -0.2}
	left := d.drawn(1, func(int) plane.XY { return by }, rng).missed(&day.scanner, fieldOf(&day.scanner, d.layout), (6-overlap)/2)
	seen := 0
	for _, p := range day.real {
		if p.long() < 50 { // the row that was left out alone
			continue
		}
		seen++
		if shift := day.beside(p, func(int) plane.XY { return by }); shift.Dist(by) > 1e-9 {
			t.Errorf("a strip between two passes that both lie off by %v is off by %v", by, shift)
		} else if on := p.moved(shift).on(left); on < 0.95*p.area || math.Abs(p.area) < 100 {
			t.Errorf("%.1f m² of a strip of %.1f m² are missed where it is looked for", on, p.area)
		}
	}
	if seen != 1 {
		t.Errorf("%d rows left out, want 1", seen)
	}
}
