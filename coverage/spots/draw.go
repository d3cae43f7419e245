package spots

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"balk/coverage"
	"balk/geo"
	"balk/geo/plane"
)

// Draw says how places are drawn.
type Draw struct {
	Places   int    `json:"places"`             // drawn by chance
	Deciding int    `json:"deciding,omitempty"` // chosen beside them because something is doubtful there, at most
	Seed     uint64 `json:"seed,omitempty"`     // of the draw; 0 = told by the passes, so that the same log gives the same places
}

// MostPlaces is how many places are drawn at most: more are not walked in a day.
const MostPlaces = 200

// Validate says what is wrong with d.
func (d Draw) Validate() error {
	if d.Places < 1 || d.Places > MostPlaces {
		return fmt.Errorf("%d places: must be from 1 to %d", d.Places, MostPlaces)
	}
	if d.Deciding < 0 || d.Deciding > MostPlaces {
		return fmt.Errorf("%d deciding places: must be from 0 to %d", d.Deciding, MostPlaces)
	}
	return nil
}

// Place is where to kneel.
type Place struct {
	At       plane.XY
	Why      geo.SpotReason
	Pass     int         // number; 0: none is named
	Bearing  geo.Bearing // of its travel
	Section  int
	FromLeft float64 // m from the bar's left end to where the section begins
	Length   float64 // m, its width: the strip to brush free
	Headland bool
	Strip    int // number of the missed strip it is to look at
}

// mostUnits is how many pieces of swath there are to draw from; a piece is one section of the bar on so much of a pass. The
// place within a piece is drawn too, so that every place of the swaths may come.
const mostUnits = 3000

// unit is a piece of swath to draw.
type unit struct {
	Place
	area    float64
	stratum int
}

// Places draws places to kneel: every place that a section of the bar went over in the field has the same chance, and they are
// spread over the field, and over directions, sections, headland and interior, by the local pivotal method (Grafström, Lundström &
// Schelin 2012, doi 10.1111/j.1541-0420.2011.01699.x, from memory). Ground in log gaps is not drawn from. Behind them stand
// places that decide something: missed strips that are not sure, and log gaps, the largest first.
func Places(o Operation, d Draw) ([]Place, error) {
	if err := d.Validate(); err != nil {
		return nil, err
	}
	seed := cmp.Or(d.Seed, seedOf(o))
	rng := rand.New(rand.NewPCG(seed, 0))
	units := unitsOf(&o, rng)
	if len(units) < d.Places {
		return nil, fmt.Errorf("%d places cannot be drawn: there are %d pieces of swath in the field", d.Places, len(units))
	}
	total := 0.0
	for _, u := range units {
		total += u.area
	}
	chances, at := make([]float64, len(units)), make([][4]float64, len(units))
	// Units of another stratum are farther than any of the same. Sections of one are farther from each other than places are.
	box := plane.EmptyBox()
	for _, u := range units {
		box = box.Extend(u.At)
	}
	far, apart := 10*box.Max.Dist(box.Min), sectionsApart*math.Sqrt(total/float64(d.Places))
	for k, u := range units {
		chances[k] = float64(d.Places) * u.area / total
		at[k] = [4]float64{u.At.X, u.At.Y, far * float64(u.stratum), apart * float64(u.Section)}
	}
	if most := slices.Max(chances); most > 1 {
		return nil, fmt.Errorf("%d places cannot be drawn from %d pieces of swath", d.Places, len(units))
	}
	var out []Place
	for _, k := range pivotal(chances, at, rng) {
		out = append(out, units[k].Place)
	}
	return append(out, deciding(&o, d.Deciding)...), nil
}

// sectionsApart is how much farther sections beside each other are than places, so that each is looked at about as often: with more,
// places of different sections would not keep away from each other.
const sectionsApart = 3

// seedOf is a seed told by the passes (FNV-1a, 64 bits, from memory), to the millimetre.
func seedOf(o Operation) uint64 {
	h := uint64(14695981039346656037)
	for _, p := range o.Passes {
		for _, q := range p.Line {
			for _, v := range [2]float64{q.X, q.Y} {
				for n := uint64(int64(math.Round(v * 1000))); n != 0; n >>= 8 {
					h = (h ^ n&0xff) * 1099511628211
				}
			}
		}
	}
	return max(h, 1)
}

// unitsOf cuts the swaths into pieces, each with a place drawn within it. Those whose place is not in the field, or in a log gap, are
// left out.
func unitsOf(o *Operation, rng *rand.Rand) []unit {
	all := 0.0
	for _, p := range o.Passes {
		all += plane.Length(p.Line)
	}
	step := all * float64(len(o.Sections)) / mostUnits
	t := tiesOf([]Operation{*o})
	g := &t.ground[0]
	var out []unit
	for _, p := range o.Passes {
		length := plane.Length(p.Line)
		pieces := max(1, int(length/max(step, minPiece)))
		each := length / float64(pieces)
		for k := range pieces {
			left := 0.0
			for s, w := range o.Sections {
				at, along := onLine(p.Line, (float64(k)+rng.Float64())*each)
				u := unit{area: each * w, Place: Place{Why: geo.SpotDrawn, Pass: p.Number, Section: s + 1, FromLeft: left, Length: w}}
				u.At = at.Add(along.Left().Scale(o.Width/2 - left - w/2))
				left += w
				if kind, _ := g.at(u.At, 0); kind == GroundOutside || kind == GroundUnknown {
					continue
				}
				u.Bearing = o.Local.BearingOf(geo.Along(along))
				if _, d2 := g.field.Nearest(u.At); math.Sqrt(d2) <= o.Headland {
					u.Headland = true
				}
				out = append(out, u)
			}
		}
	}
	ties := make([]Tie, len(out))
	for k, u := range out {
		ties[k] = Tie{Pass: u.Pass, Bearing: u.Bearing}
	}
	axis := axisOf(ties)
	for k := range out {
		out[k].stratum = way(out[k].Bearing, axis)
		if out[k].Headland {
			out[k].stratum += 3
		}
	}
	return out
}

// minPiece: shorter pieces of swath are not told apart, m.
const minPiece = 1.0

// onLine is the place so far along a line, and the unit vector of the line there.
func onLine(line []plane.XY, s float64) (at, along plane.XY) {
	for i := 1; i < len(line); i++ {
		l := line[i-1].Dist(line[i])
		if l == 0 {
			continue
		}
		along = line[i].Sub(line[i-1]).Scale(1 / l)
		if s <= l {
			return line[i-1].Add(along.Scale(s)), along
		}
		at, s = line[i], s-l
	}
	return at, along
}

// settled: a chance this near to 0 or 1 is decided.
const settled = 1e-9

// pivotal draws units with these chances, whose sum is a whole number, by the second local pivotal method: a unit drawn at random and the
// one nearest to it settle their chances between them, so that the one takes the other's as far as it can, until all are decided.
// With chances a and b, of which both together are less than 1, one of them gets a + b and the other nothing, a by the chance
// a/(a + b); else one is taken, and the other keeps a + b − 1, a is taken by the chance (1 − b)/(2 − a − b). So every unit keeps its
// chance, and those near to a drawn one are hardly drawn too.
func pivotal(chances []float64, at [][4]float64, rng *rand.Rand) []int {
	p := slices.Clone(chances)
	open := make([]int, 0, len(p)) // not decided
	for k := range p {
		if p[k] > settled && p[k] < 1-settled {
			open = append(open, k)
		}
	}
	for len(open) > 1 {
		i := rng.IntN(len(open))
		j, best := -1, math.Inf(1)
		ties := 0
		for k := range open {
			if k == i {
				continue
			}
			d := 0.0
			for x := range at[0] {
				e := at[open[i]][x] - at[open[k]][x]
				d += e * e
			}
			if d < best {
				j, best, ties = k, d, 1
			} else if d == best {
				if ties++; rng.IntN(ties) == 0 {
					j = k
				}
			}
		}
		a, b := p[open[i]], p[open[j]]
		if a+b < 1 {
			if rng.Float64()*(a+b) < a {
				a, b = a+b, 0
			} else {
				a, b = 0, a+b
			}
		} else if rng.Float64()*(2-a-b) < 1-b {
			a, b = 1, a+b-1
		} else {
			a, b = a+b-1, 1
		}
		p[open[i]], p[open[j]] = a, b
		for _, k := range []int{max(i, j), min(i, j)} { // the later first, so that the earlier keeps its place
			if v := p[open[k]]; v <= settled || v >= 1-settled {
				open[k] = open[len(open)-1]
				open = open[:len(open)-1]
			}
		}
	}
	var out []int
	for k := range p {
		if p[k] > 0.5 { // of the last one what rounding leaves
			out = append(out, k)
		}
	}
	return out
}

// Proves is what drawn places prove where none of them has a fault.
func Proves(places []Place) Share {
	var ties []Tie
	for k, p := range places {
		if p.Why == geo.SpotDrawn {
			ties = append(ties, Tie{Check: k, Pass: p.Pass})
		}
	}
	return shareOf(ties, func(Tie) bool { return true })
}

// deciding are places that decide something, those about most ground first.
func deciding(o *Operation, most int) []Place {
	type doubt struct {
		Place
		area float64
	}
	var all []doubt
	for _, s := range o.Strips {
		if s.Surety != coverage.SuretyCertain {
			all = append(all, doubt{Place{At: o.Local.XY(s.At), Why: geo.SpotStrip, Strip: s.Number, Headland: s.Headland}, s.Area})
		}
	}
	for _, p := range o.Unknown {
		at, _ := plane.Inscribed(p)
		all = append(all, doubt{Place{At: at, Why: geo.SpotGap}, p.Area()})
	}
	slices.SortStableFunc(all, func(a, b doubt) int { return cmp.Compare(b.area, a.area) })
	var out []Place
	for _, d := range all[:min(most, len(all))] {
		out = append(out, d.Place)
	}
	return out
}
