package crs

import (
	"bytes"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// projTool is a tool of PROJ (Debian's proj-bin), or skips the test.
func projTool(t *testing.T, name string) string {
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s of Debian's proj-bin is not there: not compared", name)
	}
	return path
}

// piped runs a tool of PROJ on lines and gives the first two or three numbers of each line that comes out.
func piped(t *testing.T, in string, tool string, args ...string) [][]float64 {
	t.Helper()
	c := exec.Command(tool, args...)
	c.Stdin = strings.NewReader(in)
	var stderr bytes.Buffer
	c.Stderr = &stderr
	text, err := c.Output()
	if err != nil {
		t.Fatalf("%s %q: %v: %s", tool, args, err, stderr.String())
	}
	var out [][]float64
	for line := range strings.Lines(string(text)) {
		var row []float64
		for _, f := range strings.Fields(line)[:3] {
			v, err := strconv.ParseFloat(f, 64)
			if err != nil {
				v = math.NaN()
			}
			row = append(row, v)
		}
		out = append(out, row)
	}
	return out
}

// fieldSystems are systems in which boundaries come, one at least of each method.
var fieldSystems = []int{
	2154, 3942, 27572, 31370, 3812, 3301, 2263, // Lambert conic
	3006, 2193, 7855, 28355, 25832, 32755, 31467, 31468, 31469, 31256, 27700, 29902, 2157, 2180, 3794, 3765, 3067, 5650, 4528, 6677, 31983, 2100, 23700, // transverse Mercator
	28992, 3844, 2172, // oblique stereographic
	2056, 21781, 29873, // oblique Mercator
	5514, 8353, // Krovak
	5070, 3577, 3005, // Albers
	3031, 3995, 3413, 32661, 32761, // polar stereographic
	5880, 2048, 2053, // polyconic, transverse Mercator to the south
	3035, 3857, 3395, 2314, 30200, 3068, 28191,
}

// around are places near where a system counts from: within 3° of the middle of what its parameters name, of a Cassini
// projection, whose series are for less, within 1.5°.
func around(m mapped, r *rand.Rand, n int) (lons, lats []float64) {
	keys := strings.Fields(m.method.params)
	lon0, lat0 := 0.0, 0.0
	for i, v := range m.values {
		switch strings.TrimSuffix(keys[i], "?") {
		case "lon0":
			lon0 = v + m.datum.meridian
		case "lat0":
			lat0 = v
		case "sp1":
			lat0 = v
		}
	}
	switch m.method.code {
	case "1041":
		lon0 -= 8
	case southwardCode:
		lat0 = -30
	}
	if lat0 == 0 && m.method.code != "1024" {
		lat0 = 45
		if fn := m.values[len(m.values)-1]; fn >= 1e7 || lon0 > 110 && lon0 < 180 && fn > 1e6 {
			lat0 = -35
		}
	}
	wide := 3.0
	if m.method.code == "9806" {
		wide = 1.5
	}
	for range n {
		lons, lats = append(lons, wrap(lon0+wide*(2*r.Float64()-1))), append(lats, math.Max(-85, math.Min(85, lat0+wide*(2*r.Float64()-1))))
	}
	return lons, lats
}

// Maps are those of PROJ, to a tenth of a millimetre, each at 1,000 places of its datum; with BALK_PROJ_ALL every system of the
// table at 50.
func TestMapsAsPROJ(t *testing.T) {
	tool := projTool(t, "cs2cs")
	all, places := fieldSystems, 1000
	if os.Getenv("BALK_PROJ_ALL") != "" {
		all, places = slices.Sorted(maps.Keys(systems().systems)), 50
	}
	r := rand.New(rand.NewPCG(14, 8))
	compared := 0
	for _, code := range all {
		m := systems().systems[code]
		if m.method == nil {
			if !slices.Contains(fieldSystems, code) {
				continue
			}
			t.Errorf("EPSG:%d is not in the table", code)
			continue
		}
		base := 0
		for g, d := range systems().geographic {
			if d == m.datum && (base == 0 || g < base) {
				base = g
			}
		}
		p, err := m.method.make(m.datum.e, m.values)
		if err != nil {
			t.Errorf("EPSG:%d: %v", code, err)
			continue
		}
		p = scaled{p, m.unit}
		if m.datum.meridian != 0 {
			p = turned{p, m.datum.meridian}
		}
		lons, lats := around(m, r, places)
		var in strings.Builder
		for i := range lons {
			fmt.Fprintf(&in, "%.12f %.12f\n", lons[i]-m.datum.meridian, lats[i])
		}
		worst := 0.0
		for i, want := range piped(t, in.String(), tool, "-f", "%.7f", "+init=epsg:"+strconv.Itoa(base), "+to", "+init=epsg:"+strconv.Itoa(code)) {
			x, y := p.Forward(lons[i], lats[i])
			off := m.unit * math.Hypot(x-want[0], y-want[1])
			lon, lat := p.Inverse(want[0], want[1])
			back := 111e3 * math.Hypot(wrap(lon-lons[i])*math.Cos(lats[i]*toRad), lat-lats[i])
			if worst = max(worst, off, back); !(off < 1e-4 && back < 1e-4) {
				t.Errorf("EPSG:%d (%s) at %.9f, %.9f: %.5f, %.5f, PROJ says %.5f, %.5f: %.6f m, and back %.6f m", code, p.Name(), lons[i], lats[i], x, y, want[0], want[1], off, back)
				break
			}
		}
		compared++
		if testing.Verbose() && places == 1000 {
			t.Logf("EPSG:%d (%s): %.7f m", code, p.Name(), worst)
		}
	}
	if compared < 40 {
		t.Errorf("%d systems were compared", compared)
	}
}

// Every transformation of the table is that of PROJ of the same code, to a millimetre.
func TestShiftsAsPROJ(t *testing.T) {
	tool := projTool(t, "cct")
	seen := map[int]bool{}
	compared := 0
	try := func(d *datum, all []shift) {
		for _, s := range all {
			if s.null() || seen[s.code] || d.meridian != 0 {
				continue
			}
			seen[s.code] = true
			one := newShifted(Geographic{}, d.e, []shift{s})
			places := [][2]float64{{10.5, 48.3}, {-58.2, -34.1}, {140.7, -25.2}}
			in := ""
			for _, p := range places {
				in += fmt.Sprintf("%.10f %.10f 0 0\n", p[1], p[0])
			}
			rows := piped(t, in, tool, "-d", "12", "EPSG:"+strconv.Itoa(s.code))
			if len(rows) != len(places) {
				t.Fatalf("EPSG:%d: %d lines", s.code, len(rows))
			}
			for i, row := range rows {
				lon, lat := one.Inverse(places[i][0], places[i][1])
				if off := 111e3 * math.Hypot((lon-row[1])*math.Cos(lat*toRad), lat-row[0]); !(off < 1e-3) {
					t.Errorf("EPSG:%d of %s, place %d: %.9f, %.9f, PROJ says %.9f, %.9f: %.4f m", s.code, d.name, i+1, lon, lat, row[1], row[0], off)
				}
				compared++
			}
		}
	}
	for _, code := range fieldSystems {
		if m := systems().systems[code]; m.method != nil {
			try(m.datum, m.shifts())
		}
	}
	if os.Getenv("BALK_PROJ_ALL") != "" {
		for _, d := range systems().geographic {
			try(d, d.shift)
		}
	}
	if compared < 30 {
		t.Errorf("%d places were compared", compared)
	}
}
