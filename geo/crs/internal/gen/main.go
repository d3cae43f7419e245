// Command gen writes the table of coordinate systems of package crs from proj.db, the EPSG dataset as SQLite that Debian's
// proj-data holds:
//
//	go generate ./geo/crs
//
// A line of the table is a datum or a projected system. Of a datum:
//
//	d geographic systems, datums, names, half axis, inverse flattening, prime meridian, transformation
//
// and of a system: its code, its method (none where no transformation is good enough, and then nothing after the datum), the line
// of its datum, the metres of its unit, the parameters of the method in the order of crs.methods
// (degrees, metres), and its transformation where it differs from that of the datum. A transformation to WGS84 is its EPSG
// code, its accuracy in metres, and where it is not null the seven parameters of the position vector method (m, arc-seconds,
// ppm). It has no accuracy where none that is published is good enough. A frame that is fixed to a plate of the earth's crust is
// a line of
//
//	f name, transformation from the satellites' frame, its year, seven parameters then, what they grow by in a year, extent, lines of its datums
//
// Which transformation is taken: one of Helmert type (EPSG methods 9603, 9606, 9607) that has not been superseded, whose
// extent holds the extent of the system, the most accurate, and of equals the latest. Where none holds it whole, the one that
// holds most of it; its accuracy is then that plus the most it parts there from one that is meant for the place.
package main

import (
	"cmp"
	"compress/gzip"
	"database/sql"
	"fmt"
	"log"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"

	_ "modernc.org/sqlite"
)

const (
	database = "/usr/share/proj/proj.db"
	worst    = 5.0 // m: what is less accurate is of no use for strips of an implement
	equal    = 5.0 // m: up to here a null transformation counts
	// satellites is how far a datum of the time of satellites, on their ellipsoid, may lie from WGS84 where no
	// transformation is published: they are fixed to their plates, which move by some centimetres a year.
	satellites = 2.0 // m
)

// methods are the EPSG codes of the methods that crs has, with the EPSG codes of their parameters in its order.
var methods = map[string]string{
	"9807": "8801 8802 8805 8806 8807", "9801": "8801 8802 8805 8806 8807", "9802": "8821 8822 8823 8824 8826 8827", "9822": "8821 8822 8823 8824 8826 8827",
	"9820": "8801 8802 8806 8807", "9809": "8801 8802 8805 8806 8807", "9810": "8801 8802 8805 8806 8807", "9829": "8832 8833 8806 8807", "9812": "8811 8812 8813 8814 8815 8806 8807", "9815": "8811 8812 8813 8814 8815 8816 8817",
	"9808": "8801 8802 8805 8806 8807", "9818": "8801 8802 8806 8807",
	"1041": "8811 8833 1036 8818 8819 8806 8807", "9806": "8801 8802 8806 8807", "9804": "8801 8802 8805 8806 8807", "9805": "8823 8802 8806 8807", "1024": "8801 8802 8806 8807",
}

type box struct{ south, north, west, east float64 }

// within is the share of b that lies in o.
func (b box) within(o box) float64 {
	high, wide := min(b.north, o.north)-max(b.south, o.south), min(b.east, o.east)-max(b.west, o.west)
	if high <= 0 || wide <= 0 {
		return 0
	}
	return high * wide / ((b.north - b.south) * (b.east - b.west))
}

// shift is a transformation to WGS84.
type shift struct {
	code     int
	accuracy float64
	p        [7]float64 // m, arc-seconds, ppm; position vector
	extent   box
}

func (s shift) null() bool { return s.p == [7]float64{} }

type datum struct {
	line         int
	geographic   []int // codes
	codes        []int
	names        []string
	a, invF      float64
	meridian     float64
	best         shift
	found        bool
	candidates   []shift
	extent       box
	modern       bool
	greenwichish string // its name without the prime meridian
}

var db *sql.DB

func main() {
	log.SetFlags(0)
	var err error
	if db, err = sql.Open("sqlite", "file:"+database+"?mode=ro&immutable=1"); err != nil {
		log.Fatal(err)
	}
	datums := readDatums()
	readShifts(datums)
	var out strings.Builder
	var version, date string
	row("SELECT max(CASE key WHEN 'EPSG.VERSION' THEN value END), max(CASE key WHEN 'EPSG.DATE' THEN value END) FROM metadata", &version, &date)
	fmt.Fprintf(&out, "# EPSG dataset %s of %s\n", version, date)
	for i, d := range datums {
		d.line = i
		fmt.Fprintf(&out, "d\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", numbers(d.geographic), numbers(d.codes), strings.Join(d.names, "|"), short(d.a), short(d.invF), short(d.meridian), transformation(d.best, d.found))
	}
	frames(&out, datums)
	systems(&out, datums)
	f, err := os.Create("systems.gz")
	if err != nil {
		log.Fatal(err)
	}
	z, err := gzip.NewWriterLevel(f, gzip.BestCompression)
	if err != nil {
		log.Fatal(err)
	}
	if _, err := z.Write([]byte(out.String())); err != nil {
		log.Fatal(err)
	}
	if err := cmp.Or(z.Close(), f.Close()); err != nil {
		log.Fatal(err)
	}
}

func row(query string, into ...any) {
	if err := db.QueryRow(query).Scan(into...); err != nil {
		log.Fatal(query, err)
	}
}

// each calls do for every row of a query, with its columns as text; "" for null.
func each(query string, do func(c []string)) {
	rows, err := db.Query(query)
	if err != nil {
		log.Fatal(query, err)
	}
	defer rows.Close()
	names, err := rows.Columns()
	if err != nil {
		log.Fatal(err)
	}
	got, into := make([]sql.NullString, len(names)), make([]any, len(names))
	for i := range got {
		into[i] = &got[i]
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			log.Fatal(err)
		}
		c := make([]string, len(got))
		for i, v := range got {
			c[i] = v.String
		}
		do(c)
	}
	if err := rows.Err(); err != nil {
		log.Fatal(err)
	}
}

func number(s string) float64 {
	if s == "" {
		return 0
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		log.Fatal(err)
	}
	return v
}

func whole(s string) int { return int(number(s)) }

func short(v float64) string {
	digits := 1e12
	if math.Abs(v) > 1e3 {
		digits = 1e6
	}
	v = math.Round(v*digits) / digits // without what changing units left over
	return strconv.FormatFloat(v, 'g', -1, 64)
}

func numbers(list []int) string {
	var s []string
	for _, n := range list {
		s = append(s, strconv.Itoa(n))
	}
	return strings.Join(s, ",")
}

func transformation(s shift, found bool) string {
	if !found {
		return ""
	}
	text := strconv.Itoa(s.code) + "," + short(math.Ceil(s.accuracy*10)/10)
	if !s.null() {
		for _, v := range s.p {
			text += "," + short(v)
		}
	}
	return text
}

// extentOf is the extent of an object; one over the antimeridian goes on beyond 180.
const extentOf = `(SELECT min(e.south_lat) || ' ' || max(e.north_lat) || ' ' || min(e.west_lon) || ' ' || max(CASE WHEN e.east_lon < e.west_lon THEN e.east_lon + 360 ELSE e.east_lon END)
	FROM usage u JOIN extent e ON e.auth_name = u.extent_auth_name AND e.code = u.extent_code WHERE u.object_table_name = '%s' AND u.object_auth_name = 'EPSG' AND u.object_code = %s)`

func extent(text string) box {
	f := strings.Fields(text)
	if len(f) != 4 {
		return box{}
	}
	return box{number(f[0]), number(f[1]), number(f[2]), number(f[3])}
}

// readDatums lists the geographic systems of the earth with their datums.
func readDatums() []*datum {
	byName := map[string]*datum{}
	var all []*datum
	each(`SELECT g.code, g.name, d.code, d.name, e.semi_major_axis * ue.conv_factor, e.inv_flattening, e.semi_minor_axis * ue.conv_factor, p.longitude * up.conv_factor * 180 / 3.14159265358979323846, g.type,
		`+fmt.Sprintf(extentOf, "geodetic_crs", "g.code")+`, (SELECT group_concat(alt_name, '|') FROM alias_name a WHERE a.table_name = 'geodetic_datum' AND a.auth_name = 'EPSG' AND a.code = d.code), d.publication_date
		FROM geodetic_crs g JOIN geodetic_datum d ON d.auth_name = g.datum_auth_name AND d.code = g.datum_code
		JOIN ellipsoid e ON e.auth_name = d.ellipsoid_auth_name AND e.code = d.ellipsoid_code JOIN unit_of_measure ue ON ue.auth_name = e.uom_auth_name AND ue.code = e.uom_code
		JOIN prime_meridian p ON p.auth_name = d.prime_meridian_auth_name AND p.code = d.prime_meridian_code JOIN unit_of_measure up ON up.auth_name = p.uom_auth_name AND up.code = p.uom_code
		WHERE g.auth_name = 'EPSG' AND g.deprecated = 0 AND g.type LIKE 'geographic%' AND e.celestial_body_code = 'EARTH' ORDER BY g.type, CAST(g.code AS INTEGER)`, func(c []string) {
		d := byName[c[2]]
		if d == nil {
			d = &datum{a: number(c[4]), invF: number(c[5]), meridian: number(c[7]), codes: []int{whole(c[2])}, extent: extent(c[9]), greenwichish: bare(c[1])}
			if b := number(c[6]); d.invF == 0 && b != 0 && b != d.a {
				d.invF = d.a / (d.a - b)
			}
			byName[c[2]] = d
			all = append(all, d)
			for name := range strings.SplitSeq(c[1]+"|"+c[3]+"|"+c[10], "|") {
				if name != "" && !slices.ContainsFunc(d.names, func(other string) bool { return plain(other) == plain(name) }) {
					d.names = append(d.names, name)
				}
			}
			d.modern = math.Abs(d.a-6378137) < 0.1 && math.Abs(d.invF-298.2572) < 1e-3 && c[11] >= "1988" && !strings.Contains(c[1], "IRF") && !strings.Contains(c[1], "Transit") && !strings.Contains(c[1], "Intermediate")
		}
		d.geographic = append(d.geographic, whole(c[0]))
	})
	return all
}

// plain is a name as crs compares names.
func plain(name string) string {
	name = strings.Map(func(r rune) rune {
		switch {
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r > 127 || r == '+':
			return r
		}
		return -1
	}, strings.TrimPrefix(name, "D_"))
	return name
}

// bare is the name of a geographic system without its prime meridian.
func bare(name string) string {
	before, _, _ := strings.Cut(name, " (")
	return before
}

// readShifts finds the transformations of every datum: the null ones first, since what leads to a datum that is like WGS84
// leads to WGS84.
func readShifts(datums []*datum) {
	of := map[int]*datum{}
	for _, d := range datums {
		for _, g := range d.geographic {
			of[g] = d
		}
	}
	type operation struct {
		shift
		from, to *datum
	}
	var all []operation
	each(`SELECT h.code, h.source_crs_code, h.target_crs_code, h.method_code, h.accuracy, h.tx * ut.conv_factor, h.ty * ut.conv_factor, h.tz * ut.conv_factor,
		h.rx * ur.conv_factor, h.ry * ur.conv_factor, h.rz * ur.conv_factor, h.scale_difference * us.conv_factor, `+fmt.Sprintf(extentOf, "helmert_transformation", "h.code")+`
		FROM helmert_transformation_table h JOIN unit_of_measure ut ON ut.auth_name = h.translation_uom_auth_name AND ut.code = h.translation_uom_code
		LEFT JOIN unit_of_measure ur ON ur.auth_name = h.rotation_uom_auth_name AND ur.code = h.rotation_uom_code LEFT JOIN unit_of_measure us ON us.auth_name = h.scale_difference_uom_auth_name AND us.code = h.scale_difference_uom_code
		WHERE h.auth_name = 'EPSG' AND h.deprecated = 0 AND h.method_code IN ('9603', '9606', '9607') AND h.source_crs_auth_name = 'EPSG' AND h.target_crs_auth_name = 'EPSG' AND h.accuracy IS NOT NULL
		AND NOT EXISTS (SELECT 1 FROM supersession s JOIN helmert_transformation_table n ON n.auth_name = s.replacement_auth_name AND n.code = s.replacement_code AND n.deprecated = 0 AND n.method_code IN ('9603', '9606', '9607')
			WHERE s.superseded_table_name = 'helmert_transformation' AND s.superseded_auth_name = 'EPSG' AND s.superseded_code = h.code AND s.same_source_target_crs = 1)
		ORDER BY CAST(h.code AS INTEGER)`, func(c []string) {
		o := operation{shift{code: whole(c[0]), accuracy: number(c[4]), extent: extent(c[12])}, of[whole(c[1])], of[whole(c[2])]}
		for i := range 3 {
			o.p[i] = number(c[5+i])
			o.p[3+i] = number(c[8+i]) * 180 / math.Pi * 3600
		}
		if o.p[6] = number(c[11]) * 1e6; c[3] == "9607" { // coordinate frame: the same angles turn the other way
			for i := range 3 {
				o.p[3+i] = -o.p[3+i]
			}
		}
		if o.from != nil && o.to != nil && o.from.meridian == 0 && o.to.meridian == 0 {
			all = append(all, o)
		}
	})
	wgs84 := of[4326]
	wgs84.best, wgs84.found = shift{}, true
	for changed := true; changed; { // null transformations, one after the other
		changed = false
		for _, o := range all {
			if o.null() && o.to.found && !o.from.found && o.to.best.null() && o.accuracy <= equal {
				o.from.best, o.from.found, changed = o.shift, true, true
				o.from.best.accuracy = max(o.accuracy, o.to.best.accuracy)
			}
		}
	}
	for _, o := range all {
		if !o.null() && o.to.found && o.to.best.null() && !(o.from.found && o.from.best.null()) {
			o.accuracy = max(o.accuracy, o.to.best.accuracy)
			o.from.candidates = append(o.from.candidates, o.shift)
		}
	}
	for _, d := range datums {
		if d.meridian != 0 { // what leads from its sister at Greenwich leads from it
			for _, g := range datums {
				if g.meridian == 0 && g.greenwichish == d.greenwichish && g.a == d.a && g.invF == d.invF {
					d.candidates, d.best, d.found = g.candidates, g.best, g.found
				}
			}
		}
		if !d.found {
			d.best, d.found = choose(d, d.extent)
		}
		if !d.found && d.modern && len(d.candidates) == 0 {
			d.best, d.found = shift{accuracy: satellites}, true
		}
	}
}

// choose takes the transformation of a datum for an extent; false: there is none that is good enough.
func choose(d *datum, extent box) (best shift, found bool) {
	share := 0.0
	const whole = 0.98
	for _, s := range d.candidates {
		in := min(extent.within(s.extent), whole)
		if !found || in > share || in == share && s.accuracy <= best.accuracy {
			best, share, found = s, in, true
		}
	}
	if !found || share == 0 {
		return shift{}, false
	}
	if share < whole {
		apart := 0.0
		for i := range 9 {
			for j := range 9 {
				lat, lon := extent.south+(extent.north-extent.south)*float64(i)/8, extent.west+(extent.east-extent.west)*float64(j)/8
				at := box{lat, lat + 1e-6, lon, lon + 1e-6}
				for _, s := range d.candidates {
					if at.within(s.extent) > 0 && s.accuracy <= best.accuracy {
						apart = max(apart, between(d, best, s, lon, lat))
					}
				}
			}
		}
		best.accuracy += apart
	}
	return best, best.accuracy <= worst
}

// regional gives the transformations of a datum for parts of an extent, where each place has one and those of a place agree;
// "" where there are none such. Each has its extent behind it.
func regional(d *datum, extent box) string {
	var all []shift
	apart, least := 0.0, 0.0
	for _, again := range [2]bool{false, true} {
		for i := range 41 {
			for j := range 41 {
				lat, lon := extent.south+(extent.north-extent.south)*float64(i)/40, extent.west+(extent.east-extent.west)*float64(j)/40
				at := box{lat, lat + 1e-6, lon, lon + 1e-6}
				var best *shift
				for k := range d.candidates {
					s := &d.candidates[k]
					if at.within(s.extent) == 0 || s.accuracy > worst {
						continue
					}
					if again && best != nil && slices.Contains(all, *s) && slices.Contains(all, *best) {
						apart = max(apart, between(d, *best, *s, lon, lat))
					}
					if best == nil || s.accuracy <= best.accuracy {
						best = s
					}
				}
				if best != nil && !again && !slices.Contains(all, *best) {
					all = append(all, *best)
					least = max(least, best.accuracy)
				}
			}
		}
	}
	if len(all) < 2 || least+apart > worst {
		return ""
	}
	var text []string
	for _, s := range all {
		s.accuracy += apart
		text = append(text, transformation(s, true)+"@"+strings.Join([]string{short(s.extent.south), short(s.extent.north), short(s.extent.west), short(s.extent.east)}, ","))
	}
	return strings.Join(text, ";")
}

// between is how far two transformations part at a place, m along the ground: their heights do not matter here.
func between(d *datum, a, b shift, lon, lat float64) float64 {
	p, q := moved(d, a, lon, lat), moved(d, b, lon, lat)
	sl, cl := math.Sincos(lon * math.Pi / 180)
	sp, cp := math.Sincos(lat * math.Pi / 180)
	x, y, z := p[0]-q[0], p[1]-q[1], p[2]-q[2]
	return math.Hypot(cl*y-sl*x, cp*z-sp*(cl*x+sl*y))
}

func moved(d *datum, s shift, lon, lat float64) [3]float64 {
	f := 0.0
	if d.invF != 0 {
		f = 1 / d.invF
	}
	sl, cl := math.Sincos(lon * math.Pi / 180)
	sp, cp := math.Sincos(lat * math.Pi / 180)
	n := d.a / math.Sqrt(1-f*(2-f)*sp*sp)
	x, y, z := n*cp*cl, n*cp*sl, n*(1-f)*(1-f)*sp
	const second = math.Pi / 180 / 3600
	rx, ry, rz, k := s.p[3]*second, s.p[4]*second, s.p[5]*second, 1+s.p[6]*1e-6
	return [3]float64{s.p[0] + k*(x-rz*y+ry*z), s.p[1] + k*(rz*x+y-rx*z), s.p[2] + k*(-ry*x+rx*y+z)}
}

// plates are the frames of maps that move with the ground, with the geographic systems that are theirs, and the transformation that
// leads there from the satellites' frame of 2014, from which those of 2008 and 2020 are some millimetres away. Of the two of
// Europe it is that to ETRF2000, which most countries' services keep to. Of datums of other plates the dataset has none.
var plates = []struct {
	name     string
	code     string
	extent   string // the geographic system whose extent it has
	systems  []int
	families string // beginnings of names of other systems
}{
	{"ETRS89", "8405", "4258", []int{4258}, "ETRF"},
	{"GDA94", "9682", "4283", []int{4283}, ""},
	{"GDA2020", "8049", "7844", []int{7844}, ""},
	{"NAD83", "8970", "4269", []int{4269, 6318}, "NAD83"},
}

// frames writes the plates' frames. A datum from which a null transformation that is exact to a metre leads to a datum of a
// frame, is of that frame.
func frames(out *strings.Builder, datums []*datum) {
	of := map[int]*datum{}
	for _, d := range datums {
		for _, g := range d.geographic {
			of[g] = d
		}
	}
	for _, p := range plates {
		mine := map[*datum]bool{}
		for _, s := range p.systems {
			mine[of[s]] = true
		}
		for _, d := range datums {
			// Those of islands move with plates of their own.
			if p.families != "" && strings.HasPrefix(d.names[0], p.families) && !strings.Contains(d.names[0], "PA") && !strings.Contains(d.names[0], "MA") {
				mine[d] = true
			}
		}
		for more := true; more; {
			more = false
			each(`SELECT source_crs_code, target_crs_code FROM helmert_transformation_table WHERE auth_name = 'EPSG' AND deprecated = 0 AND accuracy <= 1 AND abs(tx) + abs(ty) + abs(tz) + abs(ifnull(rx, 0)) + abs(ifnull(rate_rx, 0)) = 0
				AND source_crs_auth_name = 'EPSG' AND target_crs_auth_name = 'EPSG'`, func(c []string) {
				from, to := of[whole(c[0])], of[whole(c[1])]
				if from != nil && mine[to] && !mine[from] {
					mine[from], more = true, true
				}
			})
		}
		each(`SELECT h.method_code, h.epoch, h.tx * ut.conv_factor, h.ty * ut.conv_factor, h.tz * ut.conv_factor, h.rx * ur.conv_factor, h.ry * ur.conv_factor, h.rz * ur.conv_factor, h.scale_difference * us.conv_factor,
			h.rate_tx * vt.conv_factor, h.rate_ty * vt.conv_factor, h.rate_tz * vt.conv_factor, h.rate_rx * vr.conv_factor, h.rate_ry * vr.conv_factor, h.rate_rz * vr.conv_factor, h.rate_scale_difference * vs.conv_factor, `+fmt.Sprintf(extentOf, "geodetic_crs", p.extent)+`
			FROM helmert_transformation_table h JOIN unit_of_measure ut ON ut.auth_name = h.translation_uom_auth_name AND ut.code = h.translation_uom_code
			JOIN unit_of_measure ur ON ur.auth_name = h.rotation_uom_auth_name AND ur.code = h.rotation_uom_code JOIN unit_of_measure us ON us.auth_name = h.scale_difference_uom_auth_name AND us.code = h.scale_difference_uom_code
			JOIN unit_of_measure vt ON vt.auth_name = h.rate_translation_uom_auth_name AND vt.code = h.rate_translation_uom_code JOIN unit_of_measure vr ON vr.auth_name = h.rate_rotation_uom_auth_name AND vr.code = h.rate_rotation_uom_code
			JOIN unit_of_measure vs ON vs.auth_name = h.rate_scale_difference_uom_auth_name AND vs.code = h.rate_scale_difference_uom_code WHERE h.auth_name = 'EPSG' AND h.code = '`+p.code+"'", func(c []string) {
			const year = 31556925.445 // s, EPSG unit 1029
			var v []string
			for i, text := range c[2:16] {
				x := number(text)
				if i >= 7 {
					x *= year
				}
				switch i % 7 {
				case 3, 4, 5:
					if x *= 180 / math.Pi * 3600; c[0] == "1056" { // coordinate frame: the same angles turn the other way
						x = -x
					}
				case 6:
					x *= 1e6
				}
				v = append(v, short(x))
			}
			var lines []int
			for d := range mine {
				lines = append(lines, d.line)
			}
			slices.Sort(lines)
			e := extent(c[16])
			fmt.Fprintf(out, "f\t%s\t%s\t%s\t%s\t%s\t%s,%s,%s,%s\t%s\n", p.name, p.code, c[1], strings.Join(v[:7], ","), strings.Join(v[7:], ","), short(e.south), short(e.north), short(e.west), short(e.east), numbers(lines))
		})
	}
}

// systems writes the projected systems.
func systems(out *strings.Builder, datums []*datum) {
	of := map[int]*datum{}
	for _, d := range datums {
		for _, g := range d.geographic {
			of[g] = d
		}
	}
	parameters := ""
	for i := 1; i <= 7; i++ {
		parameters += fmt.Sprintf(", c.param%d_code, c.param%d_value, (SELECT CASE type WHEN 'angle' THEN conv_factor * 180 / 3.14159265358979323846 ELSE conv_factor END FROM unit_of_measure WHERE auth_name = c.param%d_uom_auth_name AND code = c.param%d_uom_code), c.param%d_uom_code", i, i, i, i, i)
	}
	each(`SELECT p.code, c.method_code, p.geodetic_crs_code, (SELECT group_concat(orientation || ' ' || (SELECT conv_factor FROM unit_of_measure m WHERE m.auth_name = a.uom_auth_name AND m.code = a.uom_code), '|') FROM axis a WHERE a.coordinate_system_auth_name = p.coordinate_system_auth_name AND a.coordinate_system_code = p.coordinate_system_code),
		`+fmt.Sprintf(extentOf, "projected_crs", "p.code")+parameters+` FROM projected_crs p JOIN conversion_table c ON c.auth_name = p.conversion_auth_name AND c.code = p.conversion_code
		WHERE p.auth_name = 'EPSG' AND p.deprecated = 0 AND p.geodetic_crs_auth_name = 'EPSG' ORDER BY c.method_code, CAST(p.code AS INTEGER)`, func(c []string) {
		order, known := methods[c[1]]
		d := of[whole(c[2])]
		if !known || d == nil {
			return
		}
		unit := ""
		ways := ""
		for axis := range strings.SplitSeq(c[3], "|") {
			last := strings.LastIndexByte(axis, ' ')
			ways += axis[:last]
			unit = axis[last+1:]
		}
		polar := c[1] == "9810" || c[1] == "9829" // all its ways lead south, or north
		if south := c[1] == "9808" && (ways == "westsouth" || ways == "southwest"); ways != "eastnorth" && ways != "northeast" && !south && !polar {
			return
		}
		values := map[string]string{}
		for i := 5; i < len(c); i += 4 {
			if c[i] == "" {
				continue
			}
			v := number(c[i+1]) * cmp.Or(number(c[i+2]), 1)
			if c[i+3] == "9110" { // degrees, minutes and seconds as digits
				v = sexagesimal(number(c[i+1]))
			}
			values[c[i]] = short(v)
		}
		best, found := d.best, d.found
		if !(d.found && d.best.null()) {
			best, found = choose(d, extent(c[4]))
		}
		var regions string
		if !found {
			if regions = regional(d, extent(c[4])); regions == "" {
				fmt.Fprintf(out, "%s\t\t%d\n", c[0], d.line)
				return
			}
		}
		line := []string{c[0], c[1], strconv.Itoa(d.line), short(number(unit))}
		for p := range strings.FieldsSeq(order) {
			v, ok := values[p]
			if !ok {
				log.Fatalf("system %s: no parameter %s", c[0], p)
			}
			line = append(line, v)
		}
		if regions != "" {
			line = append(line, regions)
		} else if !d.found || best.code != d.best.code || best.accuracy != d.best.accuracy {
			line = append(line, transformation(best, found))
		}
		out.WriteString(strings.Join(line, "\t") + "\n")
	})
}

// sexagesimal takes DDD.MMSSsss to degrees.
func sexagesimal(v float64) float64 {
	text := strconv.FormatFloat(math.Abs(v), 'f', 12, 64)
	d, rest, _ := strings.Cut(text, ".")
	return math.Copysign(number(d)+number(rest[:2])/60+number(rest[2:4]+"."+rest[4:])/3600, v)
}
