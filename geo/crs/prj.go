package crs

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
)

// Geographic is no projection: the coordinates are longitude and latitude in
// degrees already.
type Geographic struct{}

func (Geographic) Forward(lon, lat float64) (x, y float64) { return lon, lat }
func (Geographic) Inverse(x, y float64) (lon, lat float64) { return x, y }
func (Geographic) Name() string                            { return "longitude and latitude" }

// system is a projection as a file or a code names it.
type system struct {
	Projection
	name  string
	note  string
	frame *frame // nil: none that is told apart
}

func (s system) Name() string { return s.name }

// Note is what should be said when p, from FromWKT or FromEPSG, was used: how its datum was taken to WGS84. "" when there is
// nothing to say.
func Note(p Projection) string {
	if s, ok := p.(system); ok {
		return s.note
	}
	return ""
}

// FromWKT reads the text of a .prj file: WKT1 as ESRI and as OGC 01-009 write it, or WKT2 (OGC 18-010), of a geographic or
// projected system, or of a compound one, whose heights are left alone. x is east or longitude and y is north or latitude, as
// in every shapefile, whatever order of the axes the text gives. What comes out is longitude and latitude on WGS84.
//
// Projections are those of methods, with the parameters, ellipsoid and units written in the text. Datums are those of the
// table, by code or by name, and any on the GRS80 or WGS84 ellipsoid whose TOWGS84 is zero. A datum from which no
// transformation that is exact to 5 m is published is a *DatumError; everything else that is not known is an *UnknownError.
func FromWKT(text string) (Projection, error) {
	roots, err := parseWKT(text)
	if err != nil {
		return nil, err
	}
	for i := range roots {
		roots[i].toWKT1()
	}
	for _, n := range roots[1:] {
		if n.key != "VERTCS" && n.key != "VERT_CS" {
			return nil, &UnknownError{Name: n.key, What: "second coordinate system"}
		}
	}
	root := roots[0]
	if root.key == "COMPD_CS" {
		if err := root.only("PROJCS GEOGCS VERT_CS VERTCS AUTHORITY", ""); err != nil {
			return nil, err
		}
		inner := root.kid("PROJCS")
		if inner == nil {
			inner = root.kid("GEOGCS")
		}
		if inner == nil {
			return nil, fmt.Errorf("projection text: COMPD_CS[%q] has neither PROJCS nor GEOGCS", root.name())
		}
		root = inner
	}
	switch root.key {
	case "GEOGCS":
		g, err := geogcs(root)
		if err != nil {
			return nil, err
		}
		var p Projection = Geographic{}
		if g.angle != 1 {
			p = scaled{p, g.angle}
		}
		return g.system(orElse(root.name(), "longitude and latitude"), p, g.shift)
	case "PROJCS":
		return projcs(root)
	}
	return nil, &UnknownError{Name: root.key, What: "coordinate system"}
}

func geogcs(n *node) (earth, error) {
	// LINUNIT is the unit of heights, which a shapefile of points with heights may name and its places do not depend on.
	if err := n.only("DATUM PRIMEM UNIT LINUNIT AUTHORITY", "AXIS METADATA"); err != nil {
		return earth{}, err
	}
	text := n.kid("DATUM")
	if text == nil {
		return earth{}, fmt.Errorf("projection text: GEOGCS[%q] has no DATUM", n.name())
	}
	d, err := datumOf(text, n)
	if err != nil {
		return earth{}, err
	}
	if err := axes(n, ""); err != nil {
		return earth{}, err
	}
	u, err := unit(n, "angle", angles)
	if err != nil {
		return earth{}, err
	}
	g := earth{datum: d, angle: u}
	if p := n.kid("PRIMEM"); p != nil {
		if len(p.nums) != 1 {
			return earth{}, &UnknownError{Name: p.name(), What: "prime meridian"}
		}
		g.meridian = p.nums[0]
	}
	if g.meridian != 0 || d.meridian != 0 {
		// Some write it in the unit of the system, some in degrees; the datum of the table says which it is.
		if m := d.meridian; m == 0 || math.Abs(g.meridian-m) > 1e-6 && math.Abs(g.meridian*u-m) > 1e-6 {
			return earth{}, &UnknownError{Name: n.kid("PRIMEM").name0(), What: "prime meridian"}
		}
	}
	return g, nil
}

// known is a unit, its size, and beginnings of its names without signs; names of
// one or two letters must fit whole.
type known struct {
	written float64 // as a text gives it: radians or metres
	size    float64 // degrees or metres
	names   []string
}

func (k known) named(name string) bool {
	return slices.ContainsFunc(k.names, func(n string) bool {
		return plain(name) == n || len(n) > 2 && strings.HasPrefix(plain(name), n)
	})
}

var angles = []known{
	{math.Pi / 180, 1, []string{"deg", "decimaldeg"}},
	{math.Pi / 200, 0.9, []string{"grad", "gon"}},
	{1, 180 / math.Pi, []string{"rad"}},
}

var feet = []string{"foot", "feet", "ft", "ftus", "usf", "ussurveyf", "internationalf", "intlf"}

var lengths = []known{
	{1, 1, []string{"meter", "metre", "m"}},
	{1000, 1000, []string{"kilomet", "km"}},
	{0.3048, 0.3048, feet},
	{1200. / 3937, 1200. / 3937, feet},
}

// unit reads the UNIT of n. The two feet differ by 2e-6, so the written size
// decides between them; it is taken to be exact once it is recognised, as texts
// round it.
func unit(n *node, what string, list []known) (float64, error) {
	const rounded = 5e-7
	u := n.kid("UNIT")
	if u == nil || len(u.nums) != 1 {
		return 0, fmt.Errorf("projection text: %s[%q] has no UNIT of %s with a size", n.key, n.name(), what)
	}
	named := false
	for _, k := range list {
		if !k.named(u.name()) {
			continue
		}
		named = true
		if math.Abs(u.nums[0]-k.written) <= rounded*k.written {
			return k.size, nil
		}
	}
	if named {
		return 0, fmt.Errorf("projection text: unit %q of %s has the size %.12g, which is none of that name", u.name(), what, u.nums[0])
	}
	return 0, &UnknownError{Name: u.name(), What: "unit of " + what}
}

func projcs(n *node) (Projection, error) {
	geo, named := n.kid("GEOGCS"), n.kid("PROJECTION")
	if geo == nil || named == nil {
		return nil, fmt.Errorf("projection text: PROJCS[%q] needs a GEOGCS and a PROJECTION", n.name())
	}
	g, err := geogcs(geo)
	if err != nil {
		return nil, err
	}
	metres, err := unit(n, "length", lengths)
	if err != nil {
		return nil, err
	}
	values := map[string]float64{}
	for _, k := range n.kids {
		if k.key != "PARAMETER" {
			continue
		}
		name := parameterName(k.name())
		if _, twice := values[name]; twice || len(k.nums) != 1 {
			return nil, fmt.Errorf("projection text: PARAMETER[%q]: must stand once and have one number", k.name())
		}
		values[name] = k.nums[0]
	}
	if x := n.kid("EXTENSION"); x != nil { // in which one maker tells another what WKT1 has no words for
		if code, ok := n.epsg(); ok && code == webMercator {
			return FromEPSG(code)
		}
	}
	m := methodNamed(named.name())
	if m == nil {
		return nil, &UnknownError{Name: named.name(), What: "projection"}
	}
	if _, two := values["standard_parallel_1"]; two && m.code == "9801" { // one name for both in some files
		m = methodNamed("lambertconformalconic2sp")
		if _, second := values["standard_parallel_2"]; !second {
			if named := plain(named.name()); named != "lambertconformalconic" {
				return nil, &UnknownError{Name: "standard_parallel_1", What: "parameter of " + n.kid("PROJECTION").name()}
			}
			values["standard_parallel_2"] = values["standard_parallel_1"]
		}
	}
	v, err := m.read(named.name(), values, g.angle, metres)
	if err != nil {
		return nil, err
	}
	p, err := m.build(g.e, v)
	if err == nil {
		err = m.holds(p, v)
	}
	if err != nil {
		return nil, err
	}
	if err := n.only("GEOGCS PROJECTION UNIT AUTHORITY", "PARAMETER AXIS METADATA"); err != nil {
		return nil, err
	}
	if err := axes(n, named.name()); err != nil {
		return nil, err
	}
	if metres != 1 {
		p = scaled{p, metres}
	}
	return g.system(orElse(n.name(), p.Name()), p, g.shiftsOf(n, m, v))
}

// shiftsOf are the transformations of a projected system: those that the table has for it, by its code, or for one that is the
// same, else those of the datum.
func (g earth) shiftsOf(n *node, m *method, v []float64) []shift {
	t := systems()
	same := func(s mapped) bool {
		return s.method == m && s.datum == g.datum && close(s.values, v)
	}
	if code, ok := n.epsg(); ok && same(t.systems[code]) {
		return t.systems[code].shifts()
	}
	if len(g.shift) == 0 {
		for _, s := range t.systems {
			if s.shift != nil && same(s) {
				return s.shift
			}
		}
	}
	return g.shift
}

// close says whether parameters are the same but for rounding.
func close(a, b []float64) bool {
	if len(a) > len(b) {
		return false
	}
	for i, v := range a {
		if math.Abs(v-b[i]) > 1e-9*math.Max(1, math.Abs(v)) {
			return false
		}
	}
	return true
}

// parameterName is the name of a parameter as parameterNames has it.
func parameterName(name string) string {
	name = strings.NewReplacer(" ", "_", "-", "_", "(", "", ")", "").Replace(strings.ToLower(strings.TrimSpace(name)))
	return name
}

// webMercator is the one system for which WKT1 has no words.
const webMercator = 3857

const farthest = 1e9 // metres; no false origin in use is beyond a tenth of it

// read takes the parameters of the method out of those of a text, in its order; what is left over was not understood. angle and
// metres are the units of the text.
func (m *method) read(called string, values map[string]float64, angle, metres float64) ([]float64, error) {
	as := map[string]string{} // the name of a parameter in this text, by key
	for key := range strings.FieldsSeq(m.params) {
		key = strings.TrimSuffix(key, "?")
		for _, name := range parameterNames[key] {
			if _, ok := values[name]; !ok {
				continue
			}
			if as[key] != "" {
				return nil, fmt.Errorf("projection text: has PARAMETER[%q] and another that means the same", name)
			}
			as[key] = name
		}
	}
	var v []float64
	for key := range strings.FieldsSeq(m.params) {
		key, optional := strings.CutSuffix(key, "?")
		names, found := parameterNames[key], as[key]
		x := missing[key]
		switch {
		case found != "":
			x = values[found]
			delete(values, found)
		case key == "skew": // as the line itself
			v = append(v, v[2])
			continue
		case !optional:
			return nil, fmt.Errorf("projection text: has no PARAMETER[%q]", names[0])
		}
		most := 360.0
		switch key {
		case "fe", "fn":
			x, most = x*metres, farthest
		case "k":
			if !(x >= 0.5 && x <= 2) {
				return nil, fmt.Errorf("projection text: scale_factor %g: must lie between 0.5 and 2", x)
			}
		case "sphere", "xscale", "yscale", "turn":
		default:
			if found != "" {
				x *= angle
			}
			if strings.HasPrefix(key, "lat") {
				most = 90
			}
		}
		if !(math.Abs(x) <= most) {
			return nil, fmt.Errorf("projection text: %s %g: must lie between %g and %g", strings.ReplaceAll(names[0], "_", " "), x, -most, most)
		}
		v = append(v, x)
	}
	left := slices.Sorted(maps.Keys(values))
	if len(left) > 0 {
		return nil, &UnknownError{Name: left[0], What: "parameter of " + called}
	}
	return v, nil
}

// pointer spares a copy at every call through the interface.
func pointer[P any, Q interface {
	*P
	Projection
}](p P, err error) (Projection, error) {
	if err != nil {
		return nil, fmt.Errorf("projection text: %w", err)
	}
	return Q(&p), nil
}

// axes refuses a map that counts to the west or, but for a polar one where all
// ways lead south, to the south.
func axes(n *node, method string) error {
	code := ""
	if m := methodNamed(method); m != nil {
		code = m.code
	}
	for _, k := range n.kids {
		if k.key != "AXIS" {
			continue
		}
		for _, way := range k.words {
			polar := way == "SOUTH" && slices.Contains([]string{"9810", "9820", "9829"}, code)
			if way != "EAST" && way != "NORTH" && !polar && code != southwardCode {
				return &UnknownError{Name: k.name() + " " + way, What: "direction of axis"}
			}
		}
	}
	return nil
}

func orElse(s, other string) string {
	if s == "" {
		return other
	}
	return s
}
