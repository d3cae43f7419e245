package geo

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// The plan of the tests, in metres around 11.57° E, 48.14° N:
//
//	y 200 ┌──────────┬──────────┐   ┌────────┐
//	      │  field 0 │  field 1 │   │ field 2│
//	    0 └──────────┴──────────┘   └────────┘
//	      0         300        600 800     1000
func planFields() []Field {
	box := func(name string, x0, x1 float64) Field {
		return Field{Name: name, Boundary: orb.MultiPolygon{{{degrees(x0, 0), degrees(x1, 0), degrees(x1, 200), degrees(x0, 200), degrees(x0, 0)}}}}
	}
	return []Field{box("west", 0, 300), box("middle", 300, 600), box("far", 800, 1000)}
}

func degrees(x, y float64) orb.Point {
	return orb.Point{11.57 + x/(MetresPerDegree*0.66737), 48.14 + y/MetresPerDegree} // cos 48.14°
}

// drive is a track through the corners, a fix every two metres or less.
func drive(corners ...[2]float64) Track {
	var flat []float64
	for i, c := range corners {
		n := 0
		if i > 0 {
			p := corners[i-1]
			n = int(max(abs(c[0]-p[0]), abs(c[1]-p[1]))/2) + 1
			for k := 1; k < n; k++ {
				f := float64(k) / float64(n)
				q := degrees(p[0]+f*(c[0]-p[0]), p[1]+f*(c[1]-p[1]))
				flat = append(flat, q[0], q[1], float64(len(flat)))
			}
		}
		q := degrees(c[0], c[1])
		flat = append(flat, q[0], q[1], float64(len(flat)))
	}
	return Track{Line: geom.NewMultiLineStringFlat(geom.XYM, flat, []int{len(flat)})}
}

func abs(x float64) float64 { return max(x, -x) }

// told writes where a track was as runs, like "0 -1 2".
func told(on []int) string {
	return fmt.Sprint(slices.Compact(slices.Clone(on)))
}

func TestShare(t *testing.T) {
	for _, c := range []struct {
		name    string
		corners [][2]float64
		want    string
	}{
		{"passes on one field", [][2]float64{{10, 50}, {290, 50}, {290, 55}, {10, 55}}, "[0]"},
		{"turns beyond the boundary, on the neighbour", [][2]float64{{10, 50}, {308, 50}, {308, 55}, {10, 55}}, "[0]"},
		{"strays over the boundary by a metre all along it", [][2]float64{{290, 20}, {301, 30}, {301, 180}, {290, 190}}, "[0]"},
		{"works one field, then the one beside it", [][2]float64{{10, 50}, {290, 50}, {590, 50}, {590, 100}, {310, 100}}, "[0 1]"},
		{"a narrow stretch of the neighbour is worked between two stretches of the field", [][2]float64{{280, 20}, {315, 30}, {315, 180}, {280, 190}}, "[0 1 0]"},
		{"drives from field to field over the road", [][2]float64{{590, 50}, {700, 50}, {900, 50}}, "[1 -1 2]"},
		{"turns beyond the boundary where no field is", [][2]float64{{590, 50}, {612, 50}, {612, 60}, {590, 60}}, "[1]"},
		{"goes far and comes back", [][2]float64{{590, 50}, {700, 50}, {590, 55}}, "[1 -1 1]"},
		{"never on a field", [][2]float64{{0, -100}, {500, -100}}, "[-1]"},
		{"starts on the road", [][2]float64{{-200, 100}, {100, 100}}, "[-1 0]"},
	} {
		t.Run(c.name, func(t *testing.T) {
			track := drive(c.corners...)
			m := NewFieldMap(planFields())
			if got := told(m.Share(track, 20)); got != c.want {
				t.Errorf("on fields %s, want %s", got, c.want)
			}
			slices.Reverse(c.corners)
			back := m.Share(drive(c.corners...), 20)
			slices.Reverse(back)
			if got := told(back); got != c.want {
				t.Errorf("driven the other way: on fields %s, want %s", got, c.want)
			}
		})
	}
}

func TestShareGivesTheRimToTheFieldLeft(t *testing.T) {
	track := drive([2]float64{590, 50}, [2]float64{700, 50})
	on := NewFieldMap(planFields()).Share(track, 20)
	last := 0
	for k, f := range on {
		if f == 1 {
			last = k
		}
	}
	x := (track.Line.FlatCoords()[last*3] - 11.57) * MetresPerDegree * 0.66737
	if x < 617 || x > 620.5 {
		t.Errorf("the field's last fix lies at %.1f m, want the last within 20 m of 600 m", x)
	}
}

// TestShareAgreesWithLookingAtEveryFix compares the walk, which looks at a field
// only where a boundary is crossed, with asking every fix.
func TestShareAgreesWithLookingAtEveryFix(t *testing.T) {
	seed := uint64(20261125)
	rng := rand.New(rand.NewPCG(seed, 0))
	m := NewFieldMap(planFields())
	for range 200 {
		corners := make([][2]float64, 12)
		for i := range corners {
			corners[i] = [2]float64{-100 + 1200*rng.Float64(), -100 + 400*rng.Float64()}
		}
		track := drive(corners...)
		got := m.Share(track, 0) // no reach: nothing is handed over
		flat := track.Line.FlatCoords()
		for k, f := range got {
			if want := m.At(orb.Point{flat[3*k], flat[3*k+1]}); f != want && want != Nowhere {
				// within the shoulder a short stray stays with its field
				if !m.near(orb.Point{flat[3*k], flat[3*k+1]}, f, shoulder) {
					t.Fatalf("seed %d: fix %d on field %d, want %d", seed, k, f, want)
				}
			}
		}
	}
}

func TestCut(t *testing.T) {
	flat := []float64{0, 0, 1, 1, 0, 2, 2, 0, 3, 3, 0, 4, 4, 0, 5}
	track := Track{Line: geom.NewMultiLineStringFlat(geom.XYM, flat, []int{6, 15}), Columns: Columns{State: []WorkState{1, 2, 1, 2, 1}, Speed: []float64{1, 2, 3, 4, 5}}, Counted: &Counted{}}
	for _, c := range []struct {
		name  string
		gone  []int
		apart bool
		ends  string
		speed string
	}{
		{"nothing goes", nil, true, "[6 15]", "[1 2 3 4 5]"},
		{"one in the middle goes, the part goes on", []int{3}, false, "[6 12]", "[1 2 3 5]"},
		{"one in the middle goes and leaves a break", []int{3}, true, "[6 9 12]", "[1 2 3 5]"},
		{"a whole part goes", []int{0, 1}, true, "[9]", "[3 4 5]"},
		{"the ends go", []int{0, 4}, true, "[3 9]", "[2 3 4]"},
		{"all go", []int{0, 1, 2, 3, 4}, true, "[]", "[]"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := track.Cut(func(k int) bool { return !slices.Contains(c.gone, k) }, c.apart)
			if ends := fmt.Sprint(got.Line.Ends()); ends != c.ends {
				t.Errorf("parts end at %s, want %s", ends, c.ends)
			}
			if speed := fmt.Sprint(got.Speed); speed != c.speed {
				t.Errorf("speeds %s, want %s", speed, c.speed)
			}
			if len(got.State) != got.Fixes() || got.Width != nil || (got.Counted == nil) != (c.gone != nil) {
				t.Errorf("columns %+v do not fit", got)
			}
		})
	}
}

func BenchmarkShare(b *testing.B) {
	fields := planFields()
	for _, passes := range []int{10, 100, 1000} {
		var corners [][2]float64
		for i := range passes {
			y := 200 * float64(i) / float64(passes)
			corners = append(corners, [2]float64{5, y}, [2]float64{595, y})
		}
		track := drive(corners...)
		b.Run(fmt.Sprintf("fixes=%d", track.Fixes()), func(b *testing.B) {
			m := NewFieldMap(fields)
			for b.Loop() {
				if on := m.Share(track, 20); len(on) != track.Fixes() || on[len(on)/2] == Nowhere {
					b.Fatal("not shared")
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(track.Fixes()), "ns/fix")
		})
	}
}
