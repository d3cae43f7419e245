package spots

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"balk/geo"
)

// Wanted says what spot checks are held against.
type Wanted struct {
	Depth   *Band           `json:"depth,omitempty"`   // of the cut
	Seed    map[string]Band `json:"seed,omitempty"`    // by component
	Error   float64         `json:"error,omitempty"`   // m, 95 %, of places whose record does not tell; 0 = UsualError
	Overlap float64         `json:"overlap,omitempty"` // m, planned lap
}

// Validate says what is wrong with w.
func (w Wanted) Validate() error {
	check := func(what string, b Band) error {
		if !(b.Least >= 0 && b.Least <= b.Most && b.Most <= 1) {
			return fmt.Errorf("%s from %g to %g m: must be from 0 to 1 m, the lesser first", what, b.Least, b.Most)
		}
		return nil
	}
	if w.Depth != nil {
		if err := check("depth", *w.Depth); err != nil {
			return err
		}
	}
	for what, b := range w.Seed {
		if err := check("depth of "+what, b); err != nil {
			return err
		}
	}
	if !(w.Error >= 0 && w.Error <= 1000) {
		return fmt.Errorf("error of places %g m: must be from 0 to 1000 m", w.Error)
	}
	return nil
}

// Found is what spot checks prove. Lengths are m, shares from 0 to 1.
type Found struct {
	Checks    int            `json:"checks"`
	Chosen    Choice         `json:"chosen"`    // which of them count for shares, and whether that is by chance
	Cut       Share          `json:"cut"`       // places where nothing was left standing
	CutLength Mean           `json:"cutLength"` // share of the length brushed free that is cut
	Depth     *Depth         `json:"depth,omitempty"`
	Seed      []Depth        `json:"seed,omitempty"`
	Burial    []Depth        `json:"burial,omitempty"`
	Smeared   *Share         `json:"smeared,omitempty"`
	Groups    []Group        `json:"groups,omitempty"`   // by direction, section, zone and side on a slope
	Sections  []SectionDepth `json:"sections,omitempty"` // deeper than the others
	Ribs      []RibPlace     `json:"ribs,omitempty"`     // places of the bar with more ribs than by chance
	Joins     *Joins         `json:"joins,omitempty"`
	Effects   []Effect       `json:"effects,omitempty"`
	Against   []Against      `json:"against,omitempty"` // checks that contradict the map
	Decided   []Decided      `json:"decided,omitempty"` // what was seen at places that were to decide something
	Ties      []Tie          `json:"ties"`
}

// Choice is which checks count for shares.
type Choice struct {
	Counted  int  `json:"counted"`
	ByChance bool `json:"byChance"` // their places were drawn; else the bounds hold only if they were chosen as by chance
	Deciding int  `json:"deciding"` // left out: chosen because they are doubtful
	ByHand   int  `json:"byHand"`   // left out: chosen by hand beside drawn ones
}

// GroupKind is by what checks are grouped.
type GroupKind string

const (
	ByDirection GroupKind = "direction"
	BySection   GroupKind = "section"
	ByZone      GroupKind = "zone"
	BySide      GroupKind = "side"
)

// Group is the checks that have something in common.
type Group struct {
	By      GroupKind    `json:"by"`
	Bearing *geo.Bearing `json:"bearing,omitempty"` // ByDirection: of the travel, within 45°; nil: across
	Section int          `json:"section,omitempty"` // BySection
	Zone    string       `json:"zone,omitempty"`    // ByZone: headland or interior
	Side    Side         `json:"side,omitempty"`    // BySide: half of the bar on a slope
	Cut     Share        `json:"cut"`
	Depth   Mean         `json:"depth"`
}

// Against is a check that contradicts the map.
type Against struct {
	Check  int    `json:"check"`
	Record int    `json:"record"`
	ID     string `json:"id,omitempty"`
	Map    Ground `json:"map"`
	Cut    bool   `json:"cut"`             // what was seen
	Strip  int    `json:"strip,omitempty"` // the missed strip it was to look at
	Sure   bool   `json:"sure"`            // all ground within the error of the place is Map; else the place may lie beside it
}

// Decided is what was seen at a place that was to decide something.
type Decided struct {
	Check int            `json:"check"`
	ID    string         `json:"id,omitempty"`
	Why   geo.SpotReason `json:"why"`
	Strip int            `json:"strip,omitempty"`
	Cut   bool           `json:"cut"`
}

// Of says what checks of operations on one field prove. It satisfies
//
//  1. places chosen because they are doubtful, and those chosen by hand beside drawn ones, are in no share, mean or group;
//  2. the order of checks and of operations changes nothing but their indices;
//  3. checks on one pass never prove more than as many checks on as many passes.
func Of(checks []geo.SpotCheck, ops []Operation, w Wanted) (Found, error) {
	if err := w.Validate(); err != nil {
		return Found{}, err
	}
	for k, c := range checks {
		if err := c.Validate(); err != nil {
			return Found{}, fmt.Errorf("check %d: %w", k+1, err)
		}
	}
	t := tiesOf(ops)
	f := Found{Checks: len(checks), Ties: make([]Tie, len(checks))}
	for k, c := range checks {
		f.Ties[k] = t.tie(k, c, cmp.Or(w.Error, UsualError))
	}
	counted := f.choose(checks)
	brushed := slices.DeleteFunc(slices.Clone(counted), func(t Tie) bool { return !checks[t.Check].Brushed() || checks[t.Check].Untreated })
	cut := func(t Tie) bool { return !checks[t.Check].Uncut() }
	f.Cut = shareOf(brushed, cut)
	f.CutLength, _ = meanOf(lengths(checks, brushed), 0)
	depth := func(of []Tie) (values []value, at []Tie) {
		for _, t := range of {
			if d, ok := middleDepth(checks[t.Check]); ok {
				values, at = append(values, value{group(t), d}), append(at, t)
			}
		}
		return values, at
	}
	if values, at := depth(counted); len(values) > 0 {
		d := depthOf("", values, at, w.Depth)
		f.Depth = &d
	}
	f.Seed = named(checks, counted, func(c geo.SpotCheck) []geo.SpotNamed { return c.Seed }, w.Seed)
	f.Burial = named(checks, counted, func(c geo.SpotCheck) []geo.SpotNamed { return c.Burial }, nil)
	if said := slices.DeleteFunc(slices.Clone(counted), func(t Tie) bool { return checks[t.Check].Smeared == geo.NotSaid }); len(said) > 0 {
		s := shareOf(said, func(t Tie) bool { return checks[t.Check].Smeared == geo.IsSo })
		f.Smeared = &s
	}
	axis := axisOf(counted)
	half := func(t Tie, s Side) (float64, bool) {
		if t.Operation < 0 {
			return 0, false
		}
		return sideDepth(t, checks[t.Check], &ops[t.Operation], s)
	}
	f.Groups = groups(counted, axis, half, func(g *Group, of []Tie) {
		if g.By == BySide {
			var values []value
			for _, t := range of {
				if d, ok := half(t, g.Side); ok {
					values = append(values, value{group(t), d})
				}
			}
			g.Depth, _ = meanOf(values, ofRuler)
			of = slices.DeleteFunc(slices.Clone(of), func(t Tie) bool { return t.Side != g.Side }) // of one across the bar nobody says which half is cut
		}
		g.Cut = shareOf(slices.DeleteFunc(slices.Clone(of), func(t Tie) bool { return !checks[t.Check].Brushed() || checks[t.Check].Untreated }), cut)
		if g.By != BySide {
			values, _ := depth(of)
			g.Depth, _ = meanOf(values, ofRuler)
		}
	})
	f.Sections = sectionDepths(checks, f.Ties, ops)
	f.Ribs = ribPlaces(checks, f.Ties, ops)
	if j := joinsOf(checks, f.Ties, t, w.Overlap); j.Left+j.Right+j.Same > 0 {
		f.Joins = &j
	}
	f.Effects = effectsOf(checks, f.Ties)
	f.against(checks)
	return f, nil
}

// choose gives the ties that count for shares: the drawn ones where any was drawn, else all but deciding ones.
func (f *Found) choose(checks []geo.SpotCheck) []Tie {
	for _, c := range checks {
		f.Chosen.ByChance = f.Chosen.ByChance || c.Why == geo.SpotDrawn
	}
	var out []Tie
	for _, t := range f.Ties {
		switch why := checks[t.Check].Why; {
		case why == geo.SpotDrawn, why == geo.SpotByHand && !f.Chosen.ByChance:
			out = append(out, t)
		case why == geo.SpotByHand:
			f.Chosen.ByHand++
		default:
			f.Chosen.Deciding++
		}
	}
	f.Chosen.Counted = len(out)
	return out
}

// lengths are the shares of the strips brushed free that are cut.
func lengths(checks []geo.SpotCheck, of []Tie) (values []value) {
	for _, t := range of {
		c := checks[t.Check]
		if c.Length == 0 {
			continue
		}
		share := 1.0
		for _, r := range c.Ribs {
			share -= r.Value / c.Length
		}
		if c.Cut == geo.NotSo && len(c.Ribs) == 0 {
			share = 0
		}
		values = append(values, value{group(t), max(0, share)})
	}
	return values
}

// named sums up depths by name.
func named(checks []geo.SpotCheck, of []Tie, list func(geo.SpotCheck) []geo.SpotNamed, bands map[string]Band) (out []Depth) {
	values, at := map[string][]value{}, map[string][]Tie{}
	var names []string
	for _, t := range of {
		for _, n := range list(checks[t.Check]) {
			if _, known := values[n.What]; !known {
				names = append(names, n.What)
			}
			values[n.What], at[n.What] = append(values[n.What], value{group(t), n.Depth}), append(at[n.What], t)
		}
	}
	slices.Sort(names)
	for _, name := range names {
		var band *Band
		if b, ok := bands[name]; ok {
			band = &b
		}
		out = append(out, depthOf(name, values[name], at[name], band))
	}
	return out
}

// axisOf is the bearing, 0 to 180, along which most of the ties travel: the mean of doubled angles, in which both ways of a
// line are one.
func axisOf(ties []Tie) geo.Bearing {
	var sin, cos float64
	for _, t := range ties {
		if t.Pass > 0 {
			s, c := math.Sincos(float64(t.Bearing) * math.Pi / 90)
			sin, cos = sin+s, cos+c
		}
	}
	return geo.Bearing(math.Mod(math.Atan2(sin, cos)*90/math.Pi+180, 180))
}

// way is 0 along the axis, 1 against it, 2 across.
func way(b, axis geo.Bearing) int {
	switch c := math.Cos(float64(b-axis) * math.Pi / 180); {
	case c >= math.Sqrt2/2:
		return 0
	case c <= -math.Sqrt2/2:
		return 1
	}
	return 2
}

// groups sorts ties by direction, section, zone and side on a slope; a kind of which all are in one group says nothing and is left out.
func groups(ties []Tie, axis geo.Bearing, half func(Tie, Side) (float64, bool), fill func(g *Group, of []Tie)) (out []Group) {
	add := func(list []Group, of [][]Tie) {
		some := 0
		for _, t := range of {
			if len(t) > 0 {
				some++
			}
		}
		if some < 2 {
			return
		}
		for k, g := range list {
			if len(of[k]) > 0 {
				fill(&g, of[k])
				out = append(out, g)
			}
		}
	}
	up, down := axis, axis+180
	ways, zones, sides := make([][]Tie, 3), make([][]Tie, 2), make([][]Tie, 2)
	most := 0
	for _, t := range ties {
		most = max(most, t.Section)
	}
	sections, names := make([][]Tie, most), make([]Group, most)
	for _, t := range ties {
		if t.Pass > 0 {
			w := way(t.Bearing, axis)
			ways[w] = append(ways[w], t)
		}
		if t.Section > 0 {
			sections[t.Section-1] = append(sections[t.Section-1], t)
		}
		for k, s := range []Side{SideUphill, SideDownhill} {
			if _, deep := half(t, s); deep || t.Side == s {
				sides[k] = append(sides[k], t)
			}
		}
		if t.Ground != GroundUnplaced && t.Ground != GroundOutside {
			z := 0
			if !t.Headland {
				z = 1
			}
			zones[z] = append(zones[z], t)
		}
	}
	for k := range names {
		names[k] = Group{By: BySection, Section: k + 1}
	}
	add([]Group{{By: ByDirection, Bearing: &up}, {By: ByDirection, Bearing: &down}, {By: ByDirection}}, ways)
	add(names, sections)
	add([]Group{{By: ByZone, Zone: "headland"}, {By: ByZone, Zone: "interior"}}, zones)
	add([]Group{{By: BySide, Side: SideUphill}, {By: BySide, Side: SideDownhill}}, sides)
	return out
}

// against lists what contradicts the map, and what was decided. A place is uncut where half of what was brushed free, or all,
// is left standing; ribs are narrower than what a map shows.
func (f *Found) against(checks []geo.SpotCheck) {
	for _, t := range f.Ties {
		c := checks[t.Check]
		if !c.Brushed() || c.Untreated {
			continue
		}
		left := 0.0
		for _, r := range c.Ribs {
			left += r.Value
		}
		uncut := c.Cut == geo.NotSo && len(c.Ribs) == 0 || c.Length > 0 && left >= c.Length/2
		a := Against{Check: t.Check, Record: c.Record, ID: c.ID, Map: t.Ground, Cut: !c.Uncut(), Strip: c.Strip, Sure: t.Sure}
		deciding := c.Why == geo.SpotStrip || c.Why == geo.SpotGap
		if c.Why == geo.SpotStrip {
			a.Map = GroundMissed // it was looked for, and found, there
		}
		if deciding {
			f.Decided = append(f.Decided, Decided{t.Check, c.ID, c.Why, c.Strip, !c.Uncut()})
		}
		if a.Cut && a.Map == GroundMissed || uncut && a.Map == GroundWorked {
			f.Against = append(f.Against, a)
		}
	}
}
