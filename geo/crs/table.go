package crs

import (
	"bufio"
	"bytes"
	"compress/gzip"
	_ "embed"
	"fmt"
	"math"
	"strconv"
	"strings"
	"sync"
)

//go:generate go run ./internal/gen

// packed is the table of datums and systems; internal/gen writes it out of the EPSG dataset, and says how it is laid out.
//
//go:embed systems.gz
var packed []byte

// datum is a datum of the table.
type datum struct {
	name     string
	e        Ellipsoid
	meridian float64 // degrees east of Greenwich
	shift    []shift // to WGS84; none: there is none that is good enough
	frame    *frame  // nil: none that the table has
}

// mapped is a projected system of the table.
type mapped struct {
	method *method // nil: its datum has no transformation that is good enough there
	datum  *datum
	unit   float64 // m
	values []float64
	shift  []shift // nil: that of the datum
}

func (m mapped) shifts() []shift {
	if m.shift != nil {
		return m.shift
	}
	return m.datum.shift
}

// table is the table, ready for use.
type table struct {
	geographic map[int]*datum // by the code of a geographic system
	datums     map[int]*datum // by the code of a datum
	names      map[string]*datum
	systems    map[int]mapped
	frames     []*frame
}

// systems reads the table when it is first asked for.
var systems = sync.OnceValue(func() *table {
	t, err := readTable(packed)
	if err != nil {
		panic("crs: the table in the program: " + err.Error()) // a fault of the build; a test reads it
	}
	return t
})

func readTable(packed []byte) (*table, error) {
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, err
	}
	t := &table{map[int]*datum{}, map[int]*datum{}, map[string]*datum{}, map[int]mapped{}, nil}
	var list []*datum
	byCode := map[string]*method{}
	for i := range methods {
		byCode[methods[i].code] = &methods[i]
	}
	r := reader{}
	lines := bufio.NewScanner(z)
	for lines.Scan() {
		f := strings.Split(lines.Text(), "\t")
		switch {
		case strings.HasPrefix(f[0], "#"):
		case f[0] == "d" && len(f) == 8:
			names := strings.Split(f[3], "|")
			d := &datum{name: names[0], e: Ellipsoid{r.number(f[4]), r.number(f[5])}, meridian: r.number(f[6]), shift: r.shifts(f[7])}
			list = append(list, d)
			for code := range strings.SplitSeq(f[1], ",") {
				t.geographic[r.whole(code)] = d
			}
			t.datums[r.whole(f[2])] = d
			for _, n := range names {
				if key := plainDatum(n); t.names[key] == nil {
					t.names[key] = d
				}
			}
		case f[0] == "f" && len(f) == 8:
			one := &frame{name: f[1], code: r.whole(f[2]), year: r.number(f[3])}
			r.numbers(one.p[:], f[4])
			r.numbers(one.by[:], f[5])
			r.numbers(one.region[:], f[6])
			for line := range strings.SplitSeq(f[7], ",") {
				list[r.whole(line)].frame = one
			}
			t.frames = append(t.frames, one)
		case len(f) >= 3 && r.whole(f[2]) < len(list):
			m := mapped{method: byCode[f[1]], datum: list[r.whole(f[2])]}
			if m.method != nil {
				n := 4 + m.method.listed()
				if len(f) < n || len(f) > n+1 {
					return nil, fmt.Errorf("system %s has %d columns", f[0], len(f))
				}
				m.unit = r.number(f[3])
				for _, v := range f[4:n] {
					m.values = append(m.values, r.number(v))
				}
				if len(f) > n {
					m.shift = r.shifts(f[n])
				}
			}
			t.systems[r.whole(f[0])] = m
		default:
			return nil, fmt.Errorf("line %.40q", lines.Text())
		}
	}
	if r.err == nil {
		r.err = lines.Err()
	}
	return t, r.err
}

// reader reads the numbers of the table; the first error stays.
type reader struct{ err error }

func (r *reader) number(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil && r.err == nil {
		r.err = err
	}
	return v
}

// numbers reads a list as long as into.
func (r *reader) numbers(into []float64, s string) {
	f := strings.Split(s, ",")
	if len(f) != len(into) {
		r.number("x" + s)
		return
	}
	for i := range f {
		into[i] = r.number(f[i])
	}
}

func (r *reader) whole(s string) int { return int(r.number(s)) }

// shifts reads transformations: one, or one for each of several regions.
func (r *reader) shifts(s string) []shift {
	if s == "" {
		return nil
	}
	var all []shift
	for one := range strings.SplitSeq(s, ";") {
		values, region, _ := strings.Cut(one, "@")
		f := strings.Split(values, ",")
		if len(f) != 2 && len(f) != 9 {
			r.number("x" + s)
			return nil
		}
		h := shift{code: r.whole(f[0]), accuracy: r.number(f[1])}
		for i, v := range f[2:] {
			h.p[i] = r.number(v)
		}
		if region != "" {
			for i, v := range strings.Split(region, ",") {
				h.region[i%4] = r.number(v)
			}
		}
		all = append(all, h)
	}
	return all
}

// FromEPSG is the system with a code of the EPSG dataset. x is east and y is north, as files have it also where the dataset
// names north first; what comes out is longitude and latitude on WGS84. A code that is not known, or of a projection that is
// not, is an *UnknownError; a datum from which no transformation that is exact to 5 m is published is a *DatumError.
func FromEPSG(code int) (Projection, error) {
	t := systems()
	if d, ok := t.geographic[code]; ok {
		if d.meridian != 0 { // and degrees that are grades
			return nil, &UnknownError{Name: strconv.Itoa(code), What: "EPSG code"}
		}
		return d.system(fmt.Sprintf("%s (EPSG:%d)", d.name, code), Geographic{}, d.shift)
	}
	m, ok := t.systems[code]
	if !ok {
		return nil, &UnknownError{Name: strconv.Itoa(code), What: "EPSG code"}
	}
	if m.method == nil {
		return nil, m.datum.refused()
	}
	p, err := m.method.make(m.datum.e, m.values)
	if err != nil {
		return nil, err
	}
	if m.unit != 1 {
		p = scaled{p, m.unit}
	}
	return m.datum.system(fmt.Sprintf("%s / %s (EPSG:%d)", m.datum.name, p.Name(), code), p, m.shifts())
}

func (d *datum) refused() error {
	return &DatumError{d.name, "has no published transformation to WGS84 that is exact to 5 m"}
}

// system is a projection on a datum, taken to WGS84.
func (d *datum) system(name string, p Projection, shifts []shift) (Projection, error) {
	if len(shifts) == 0 {
		return nil, d.refused()
	}
	if d.meridian != 0 {
		p = turned{p, d.meridian}
	}
	first := shifts[0]
	s := system{name: name, frame: d.frame}
	switch {
	case !first.null():
		s.frame = nil
		s.Projection = newShifted(p, d.e, shifts)
		s.note = fmt.Sprintf("datum %s is shifted to WGS84 by EPSG:%d, which is exact to %g m; areas and widths do not change", d.name, first.code, first.accuracy)
		if len(shifts) > 1 {
			s.note = fmt.Sprintf("datum %s is shifted to WGS84 by the transformation of the region, which is exact to %g m; areas and widths do not change", d.name, first.accuracy)
		}
	case first.accuracy > 0:
		s.Projection = p
		s.note = fmt.Sprintf("datum %s is taken as WGS84, from which it lies up to %g m; areas and widths do not change", d.name, math.Max(2, first.accuracy))
	default:
		s.Projection = p
	}
	return s, nil
}

// turned is a projection whose longitudes do not count from Greenwich.
type turned struct {
	Projection
	meridian float64
}

func (t turned) Forward(lon, lat float64) (x, y float64) {
	return t.Projection.Forward(wrap(lon-t.meridian), lat)
}

func (t turned) Inverse(x, y float64) (lon, lat float64) {
	lon, lat = t.Projection.Inverse(x, y)
	return wrap(lon + t.meridian), lat
}
