package plan

import (
	"math"
	"reflect"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestRealFields searches every so manieth real field, with a set that changes from field to field.
//
//  1. Naming the number of rounds that was found gives the same plan.
//  2. No plan has more than two rounds more than the least turn needs.
//  3. The bound is below the plan, and the gap is the way to it.
//  4. No direction at steps of 6° comes to 1 % less than the plan found, with its rounds, when all is laid out.
//  5. Where passes are few, one round more or fewer asked for takes no less, nor do as many as turning needs.
func TestRealFields(t *testing.T) {
	const every = 23
	sets := []rig.Implement{mounted(6), trailed(5), mounted(3)}
	n := 0
	for i, field := range trial.OnPlanes(t) {
		if i%every != every/2 || areaOf(field) >= 12*hectare {
			continue
		}
		im := sets[n%len(sets)]
		n++
		found, err := Best(t.Context(), field, im, Options{Speed: 8}, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		o := Options{Speed: 8, Rounds: found.Plan.Rounds, NoRounds: found.Plan.Rounds == 0}
		again, err := Best(t.Context(), field, im, o, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(found.Candidate, again.Candidate) {
			t.Errorf("field %d, %s: %d rounds found: %g h at %g°; asked for: %g h at %g°", i, im.Name, o.Rounds, found.Candidate.Value, found.Candidate.Direction, again.Candidate.Value, again.Candidate.Direction)
		}
		if n := found.Plan.Rounds; len(found.Plan.Passes) <= fewPasses {
			for _, k := range []int{n - 1, n + 1, needed(t, field, im)} {
				if k < 1 {
					continue
				}
				if other, err := Best(t.Context(), field, im, Options{Speed: 8, Rounds: k}, Objective{}); err != nil || other.Candidate.Value < found.Candidate.Value-1e-9 && k <= needed(t, field, im)+moreRounds {
					t.Errorf("field %d, %s: %d rounds found: %g h; %d asked for: %g h, %v", i, im.Name, n, found.Candidate.Value, k, other.Candidate.Value, err)
				}
			}
		}
		s, err := surveyOf(t.Context(), field, im, Options{Speed: 8})
		if err != nil {
			t.Fatal(err)
		}
		if found.Plan.Rounds > s.rounds+2 {
			t.Errorf("field %d, %s: %d rounds, %d are needed", i, im.Name, found.Plan.Rounds, s.rounds)
		}
		if c := found.Candidate; !(c.Least > 0 && c.Least <= (c.Hours+c.UnfitHours)*(1+1e-9)) || math.Abs(c.Gap-((c.Hours+c.UnfitHours)/c.Least-1)) > 1e-9 || !(c.LeastOfAny > 0 && c.LeastOfAny <= c.Hours*(1+1e-6)) {
			t.Errorf("field %d, %s: bound %g h, gap %g, plan %g h", i, im.Name, c.Least, c.Gap, c.Hours)
		}
		if s, err = s.at(t.Context(), found.Plan.Rounds); err != nil {
			t.Fatal(err)
		}
		for d := 0.0; d < 180; d += 6 {
			p, err := s.lay(t.Context(), choice{heading: headingOf(d)}, nil)
			if err != nil {
				t.Fatal(err)
			}
			if c := p.candidate(); c.Hours+c.UnfitHours >= found.Candidate.Value {
				continue
			}
			c, err := p.simulated(t.Context(), false)
			if err != nil {
				t.Fatal(err)
			}
			if v := (Objective{}).of(c); v < 0.99*found.Candidate.Value {
				t.Errorf("field %d, %s, %d rounds: %g h at %g°, found %g h at %g°", i, im.Name, p.Rounds, v, d, found.Candidate.Value, found.Candidate.Direction)
			}
		}
	}
	if n < 5 {
		t.Errorf("%d real fields: want 5 at least", n)
	}
}

// TestBentRowsCompete: along an arc of 90° rows of an arced field are bent, without being asked for, and take less than in any direction.
func TestBentRowsCompete(t *testing.T) {
	field := arcedField(150, 230, 0, math.Pi/2, 0.02)
	found, err := Best(t.Context(), field, mounted(6), Options{Speed: 8}, Objective{})
	if err != nil {
		t.Fatal(err)
	}
	o := found.Plan.Options
	if !found.Candidate.Bent || o.Along == nil {
		t.Fatalf("%d rows at %g°, straight: want them bent", found.Candidate.Passes, found.Candidate.Direction)
	}
	p, c := laid(t, field, mounted(6), Options{Speed: 8, Rounds: found.Plan.Rounds, Along: o.Along})
	if len(p.Passes) != len(found.Plan.Passes) || math.Abs(c.Hours-found.Candidate.Hours) > 1e-9 {
		t.Errorf("asked for along that edge: %d passes in %g h, found %d in %g h", len(p.Passes), c.Hours, len(found.Plan.Passes), found.Candidate.Hours)
	}
}

// TestHalfIsNoPlan: what leaves more than half of a field stands behind what does not, whatever it is worth.
func TestHalfIsNoPlan(t *testing.T) {
	half, whole := Candidate{Field: 100, Missed: 51, Value: 1}, Candidate{Field: 100, Missed: 49, Value: 9}
	if half.compare(whole) <= 0 || whole.compare(half) >= 0 || half.compare(half) != 0 {
		t.Errorf("half before whole")
	}
	if worse := (Candidate{Field: 100, Value: 10}); whole.compare(worse) >= 0 {
		t.Error("10 before 9")
	}
}

// TestRowEndsInTheTable: what the table of row ends says of a turn is what the turn takes on a field with such row ends.
func TestRowEndsInTheTable(t *testing.T) {
	for _, im := range []rig.Implement{mounted(6), mounted(3), trailed(5)} {
		for _, slant := range []float64{0, 30, -30} { // degrees
			tr, err := turnerOf(im, box(400, 400))
			if err != nil {
				t.Fatal(err)
			}
			tr.unfit, tr.missed = 120, 1e9
			out := math.Tan(slant*math.Pi/180) * im.Width * 4
			got := tr.rowEnds(im.Width).seconds(4, out, 100)
			c, fault, err := tr.turn(tr.axle(plane.XY{X: 200, Y: 200}, 0), tr.axle(plane.XY{X: 200 + out, Y: 200 + 4*im.Width}, math.Pi), true)
			if err != nil || fault != nil {
				t.Fatal(err, fault)
			}
			if math.Abs(got-c.seconds) > 0.02*c.seconds {
				t.Errorf("%s of %g m at %g°: %g s in the table, %g s driven", im.Name, im.Width, slant, got, c.seconds)
			}
			if none := tr.rowEnds(im.Width).seconds(4, out, 1); none < got+tr.unfit-plainer {
				t.Errorf("%s of %g m at %g° in a headland of 1 m: %g s: want the price of what does not fit on top of %g s", im.Name, im.Width, slant, none, got)
			}
			tr.missed = 1 // s/m²: in a headland a metre less deep than the turn needs both rows end 1 m/cos early, and leave their width times that
			fits := 30.0
			for tr.rowEnds(im.Width).seconds(4, out, fits-0.1) <= got+1e-9 {
				fits -= 0.1
			}
			most := got + 2*1.1*(im.Width+pitchStep)/math.Cos(slant*math.Pi/180)
			if early := tr.rowEnds(im.Width).seconds(4, out, fits-1); early < got-plainer || early > most {
				t.Errorf("%s of %g m at %g°, in a headland of %g m: %g s: want from %g s to %g s", im.Name, im.Width, slant, fits-1, early, got, most)
			}
		}
	}
}

// needed are the rounds that the least plain U needs.
func needed(t *testing.T, field []plane.Polygon, im rig.Implement) int {
	t.Helper()
	s, err := surveyOf(t.Context(), field, im, Options{Speed: 8})
	if err != nil {
		t.Fatal(err)
	}
	return s.rounds
}
