package crs

import (
	"fmt"
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
	name string
	like string // the datum that is taken as WGS84; "" for WGS84 itself
}

func (s system) Name() string { return s.name }

// Note is what should be said when p, from FromWKT or FromEPSG, was used:
// that its datum was taken as WGS84. "" when there is nothing to say.
func Note(p Projection) string {
	if s, ok := p.(system); ok && s.like != "" {
		return fmt.Sprintf("datum %s is taken as WGS84, from which it lies up to 2 m; areas and widths do not change", s.like)
	}
	return ""
}

// FromWKT reads the WKT1 text of a .prj file, as ESRI and as OGC 01-009 write
// it: GEOGCS, PROJCS, and COMPD_CS or a trailing VERTCS, whose heights are left
// alone. x is east or longitude and y is north or latitude, as in every
// shapefile, whatever order of the axes the text gives.
//
// Projections: transverse Mercator, Lambert conformal conic with one or two
// standard parallels, Lambert azimuthal equal area, with the parameters,
// ellipsoid and units written in the text. All parameters must be there but
// scale_factor beside standard_parallel_1.
//
// Datums: WGS84 and those that agree with it within a metre or two and need no
// shift: ETRS89, RGF93, SWEREF99, NAD83, GDA94, GDA2020, NZGD2000, SIRGAS 2000,
// and any on the GRS80 or WGS84 ellipsoid whose TOWGS84 is zero. Others are a
// *DatumError; everything else that is not known is an *UnknownError.
func FromWKT(text string) (Projection, error) {
	roots, err := parseWKT(text)
	if err != nil {
		return nil, err
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
		return g.geographic(root.name()), nil
	case "PROJCS":
		return projcs(root)
	}
	return nil, &UnknownError{Name: root.key, What: "coordinate system"}
}

// earth is what a GEOGCS says.
type earth struct {
	e     Ellipsoid
	like  string
	angle float64 // degrees per unit of angle
}

func (g earth) geographic(name string) Projection {
	var p Projection = Geographic{}
	if g.angle != 1 {
		p = scaled{p, g.angle}
	}
	return system{p, orElse(name, "longitude and latitude"), g.like}
}

func geogcs(n *node) (earth, error) {
	if err := n.only("DATUM PRIMEM UNIT AUTHORITY", "AXIS METADATA"); err != nil {
		return earth{}, err
	}
	d := n.kid("DATUM")
	if d == nil {
		return earth{}, fmt.Errorf("projection text: GEOGCS[%q] has no DATUM", n.name())
	}
	e, like, err := datum(d)
	if err != nil {
		return earth{}, err
	}
	if p := n.kid("PRIMEM"); p != nil && (len(p.nums) != 1 || p.nums[0] != 0) {
		return earth{}, &UnknownError{Name: p.name(), What: "prime meridian"}
	}
	if err := axes(n, ""); err != nil {
		return earth{}, err
	}
	u, err := unit(n, "angle", angles)
	if err != nil {
		return earth{}, err
	}
	return earth{e, like, u}, nil
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

// parameters are those of a PROJCS. Taking one strikes it off; what is left at
// the end was not understood.
type parameters struct {
	values map[string]float64
	err    error
}

// take gives the parameter written under one of the names, times unit.
func (p *parameters) take(unit float64, names ...string) float64 {
	v, ok := p.maybe(unit, names...)
	if !ok && p.err == nil {
		p.err = fmt.Errorf("projection text: has no PARAMETER[%q]", names[0])
	}
	return v
}

func (p *parameters) maybe(unit float64, names ...string) (v float64, ok bool) {
	for _, name := range names {
		if w, has := p.values[name]; has {
			if ok && p.err == nil {
				p.err = fmt.Errorf("projection text: has PARAMETER[%q] and another that means the same", name)
			}
			delete(p.values, name)
			v, ok = w*unit, true
		}
	}
	return v, ok
}

// limit keeps an error if the value lies outside ±most.
func (p *parameters) limit(name string, v, most float64) float64 {
	if !(math.Abs(v) <= most) && p.err == nil {
		p.err = fmt.Errorf("projection text: %s %g: must lie between %g and %g", name, v, -most, most)
	}
	return v
}

func projcs(n *node) (Projection, error) {
	geo, method := n.kid("GEOGCS"), n.kid("PROJECTION")
	if geo == nil || method == nil {
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
	ps := &parameters{values: map[string]float64{}}
	for _, k := range n.kids {
		if k.key != "PARAMETER" {
			continue
		}
		name := strings.ToLower(k.name())
		if _, twice := ps.values[name]; twice || len(k.nums) != 1 {
			return nil, fmt.Errorf("projection text: PARAMETER[%q]: must stand once and have one number", k.name())
		}
		ps.values[name] = k.nums[0]
	}
	p, err := project(method.name(), g, metres, ps)
	if err != nil {
		return nil, err
	}
	if err := n.only("GEOGCS PROJECTION UNIT AUTHORITY", "PARAMETER AXIS METADATA"); err != nil {
		return nil, err
	}
	if err := axes(n, method.name()); err != nil {
		return nil, err
	}
	if metres != 1 {
		p = scaled{p, metres}
	}
	return system{p, orElse(n.name(), p.Name()), g.like}, nil
}

// project makes the projection a PROJECTION and its parameters describe.
func project(method string, g earth, metres float64, ps *parameters) (Projection, error) {
	const farthest = 1e9 // metres; no false origin in use is beyond a tenth of it
	var build func() (Projection, error)
	var lon0, lat0 float64
	switch plain(method) {
	case "transversemercator", "gausskruger":
		lon0, lat0 = ps.take(g.angle, "central_meridian", "longitude_of_center"), ps.take(g.angle, "latitude_of_origin", "latitude_of_center")
		k0, fe, fn := ps.scale(true), ps.take(metres, "false_easting"), ps.take(metres, "false_northing")
		ps.limit("false easting", fe, farthest)
		ps.limit("false northing", fn, farthest)
		build = func() (Projection, error) {
			tm := NewTransverseMercator(g.e, lon0, lat0, k0, fe, fn)
			return &tm, nil
		}
	case "lambertconformalconic", "lambertconformalconic1sp", "lambertconformalconic2sp":
		lon0, lat0 = ps.take(g.angle, "central_meridian", "longitude_of_center"), ps.take(g.angle, "latitude_of_origin", "latitude_of_center")
		fe, fn := ps.take(metres, "false_easting"), ps.take(metres, "false_northing")
		sp1, given := ps.maybe(g.angle, "standard_parallel_1")
		two := plain(method) == "lambertconformalconic2sp"
		if two && !given {
			return nil, fmt.Errorf("projection text: has no PARAMETER[%q]", "standard_parallel_1")
		}
		k0 := ps.scale(!given)
		if !given {
			sp1 = lat0
		}
		sp2 := sp1
		if two {
			sp2 = ps.take(g.angle, "standard_parallel_2")
		} else if v, ok := ps.maybe(g.angle, "standard_parallel_2"); ok {
			sp2 = v
		}
		ps.limit("false easting", fe, farthest)
		ps.limit("false northing", fn, farthest)
		build = func() (Projection, error) {
			return pointer(NewLambertConformal(g.e, lon0, lat0, sp1, sp2, k0, fe, fn))
		}
	case "lambertazimuthalequalarea":
		lon0, lat0 = ps.take(g.angle, "longitude_of_center", "central_meridian"), ps.take(g.angle, "latitude_of_center", "latitude_of_origin")
		fe, fn := ps.take(metres, "false_easting"), ps.take(metres, "false_northing")
		ps.limit("false easting", fe, farthest)
		ps.limit("false northing", fn, farthest)
		build = func() (Projection, error) {
			return pointer(NewLambertEqualArea(g.e, lon0, lat0, fe, fn))
		}
	default:
		return nil, &UnknownError{Name: method, What: "projection"}
	}
	ps.limit("central meridian", lon0, 360)
	ps.limit("latitude of origin", lat0, 90)
	if ps.err != nil {
		return nil, ps.err
	}
	if len(ps.values) > 0 {
		var left []string
		for name := range ps.values {
			left = append(left, name)
		}
		slices.Sort(left)
		return nil, &UnknownError{Name: left[0], What: "parameter of " + method}
	}
	return build()
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

// scale is the scale factor; 1 if it is not there and need not be.
func (p *parameters) scale(needed bool) float64 {
	k, ok := p.maybe(1, "scale_factor")
	if !ok && !needed {
		return 1
	}
	if !ok && p.err == nil {
		p.err = fmt.Errorf("projection text: has no PARAMETER[%q]", "scale_factor")
	}
	if ok && !(k >= 0.5 && k <= 2) && p.err == nil {
		p.err = fmt.Errorf("projection text: scale_factor %g: must lie between 0.5 and 2", k)
	}
	return k
}

// axes refuses a map that counts to the west or, but for a polar one where all
// ways lead south, to the south.
func axes(n *node, method string) error {
	for _, k := range n.kids {
		if k.key != "AXIS" {
			continue
		}
		for _, way := range k.words {
			polar := way == "SOUTH" && plain(method) == "lambertazimuthalequalarea"
			if way != "EAST" && way != "NORTH" && !polar {
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
