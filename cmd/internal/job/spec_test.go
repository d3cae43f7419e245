package job

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// A field is meant by its number, by its name, or by being the only one; what means none or several is refused with the list.
func TestChoose(t *testing.T) {
	fields := []geo.Field{{Name: "Long Acre", Number: 1}, {Name: "7", Number: 2}, {Name: "long acre", Number: 3}, {Name: "", Number: 4}, {Name: "Top", Number: 5}, {Name: "TOP", Number: 6}}
	for name, c := range map[string]struct {
		fields []geo.Field
		want   string
		number int    // 0: refused
		words  string // of the refusal
	}{
		"the only one":                 {fields[2:3], "", 3, ""},
		"none said of many":            {fields, "", 0, "holds 6 fields, and none is chosen"},
		"a number":                     {fields, "2", 2, ""},
		"a number that is not there":   {fields, "9", 0, "holds no field number 9; it holds:\n  1  Long Acre\n  2  7\n"},
		"a number that is a name":      {fields, "7", 0, "--field name=7"},
		"a name that is a number":      {fields, "name=7", 2, ""},
		"a number beyond all":          {fields, "99999999999999999999", 0, "holds no field number"},
		"a name as it is":              {fields, "long acre", 3, ""},
		"a name whatever its case":     {fields[4:5], "tOP", 5, ""},
		"a name whatever its case, 2":  {fields, "top", 0, "holds 2 fields named \"top\""},
		"a name that is not there":     {fields, "Hill", 0, "holds no field named \"Hill\""},
		"a name of two, as it is":      {[]geo.Field{{Name: "A", Number: 1}, {Name: "A", Number: 2}}, "A", 0, "holds 2 fields named \"A\""},
		"the only one, by a wrong one": {fields[:1], "2", 0, "holds no field number 2"},
	} {
		f, err := choose(c.fields, c.want, "f.geojson")
		if (err == nil) != (c.number > 0) || f.Number != c.number || err != nil && !strings.Contains(err.Error(), c.words) {
			t.Errorf("%s: field %d (%v), want %d %q", name, f.Number, err, c.number, c.words)
		}
	}
	if _, err := choose(fields, "9", "f"); strings.Contains(err.Error(), "hint") {
		t.Errorf("a hint to a name that is not there: %v", err)
	}
	if got, want := list(fields[3:5], []int{7, 0}), "  4  (no name)  (7 fixes)\n  5  Top  (0 fixes)"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	// Of a whole district ten are listed, those with fixes on them first.
	var district []geo.Field
	fixes := make([]int, 300)
	for i := range fixes {
		district = append(district, geo.Field{Number: i + 1})
	}
	fixes[299] = 5
	if got := list(district, fixes); strings.Count(got, "\n") != mostListed || !strings.Contains(got, "  300  (no name)  (5 fixes)\n  and 290 more") || !strings.HasPrefix(got, "  1  ") {
		t.Errorf("%q", got)
	}
	if got := list(district[:10], nil); strings.Contains(got, "more") || strings.Count(got, "\n") != 9 {
		t.Errorf("%q", got)
	}
}

// A gate lies within 500 m of the field, on any side, and within the field.
func TestGateOn(t *testing.T) {
	local := geo.LocalAt(orb.Point{11.5, 48.1})
	field := []plane.Polygon{{{{X: -50, Y: -50}, {X: 50, Y: -50}, {X: 50, Y: 50}, {X: -50, Y: 50}}}}
	for at, good := range map[plane.XY]bool{{X: 549}: true, {X: -549}: true, {Y: 551}: false, {X: 551}: false, {}: true} {
		p, err := gateOn(local, field, local.Point(at))
		if (err == nil) != good || good && p.Dist(at) > 1e-3 {
			t.Errorf("%v: %v (%v)", at, p, err)
		}
	}
	if _, err := gateOn(local, field, local.Point(plane.XY{X: 2050})); err == nil || !strings.Contains(err.Error(), "lies 2.0 km from the field") {
		t.Errorf("%v, want 2.0 km", err)
	}
}

// Days are read as they are written, the last one included.
func TestDays(t *testing.T) {
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 4, day, hour, minute, 0, 0, time.UTC) }
	for text, want := range map[string]Days{
		"2026-04-14":                         {at(14, 0, 0), at(15, 0, 0)},
		"2026-04-14..2026-04-15":             {at(14, 0, 0), at(16, 0, 0)},
		"2026-04-14T15:30":                   {at(14, 15, 30), at(14, 15, 31)},
		"2026-04-14T15:30..2026-04-14T16:00": {at(14, 15, 30), at(14, 16, 1)},
	} {
		d, err := ParseDays(text)
		if err != nil || d != want || d.String() != text {
			t.Errorf("%q: %v (%v), want %v", text, d, err, want)
		}
	}
	for _, text := range []string{"", "..", "2026-04-14..", "..2026-04-14", "14.4.2026", "2026-04-15..2026-04-14", "2026-04-14T15:30..2026-04-14T15:29", "2026-04-14T15:30Z"} {
		if d, err := ParseDays(text); err == nil {
			t.Errorf("%q: %v, want an error", text, d)
		}
	}
	if (Days{}).String() != "" || (Days{}).validate() != nil {
		t.Error("no days are all days")
	}
	// Half a day at one end alone is written with times of day.
	for want, half := range map[string]Days{"2026-04-14T00:00..2026-04-14T11:59": {at(14, 0, 0), at(14, 12, 0)}, "2026-04-14T12:00..2026-04-14T23:59": {at(14, 12, 0), at(15, 0, 0)}} {
		if got := half.String(); got != want {
			t.Errorf("half a day is %q, want %q", got, want)
		}
	}
	d := Days{at(14, 0, 0), at(15, 0, 0)}
	for name, c := range map[string]struct {
		s    geo.Session
		want bool
	}{
		"on it":               {geo.Session{From: at(14, 8, 0), To: at(14, 9, 0)}, true},
		"over midnight to it": {geo.Session{From: at(13, 23, 0), To: at(14, 0, 0)}, true},
		"the day before":      {geo.Session{From: at(13, 22, 0), To: at(13, 23, 59)}, false},
		"from its midnight":   {geo.Session{From: at(15, 0, 0), To: at(15, 1, 0)}, false},
		"from it on":          {geo.Session{From: at(14, 23, 59), To: at(15, 1, 0)}, true},
	} {
		if d.has(c.s) != c.want {
			t.Errorf("%s: %v", name, !c.want)
		}
		if !(Days{}).has(c.s) {
			t.Errorf("%s: not on all days", name)
		}
	}
	morning, evening := geo.Session{From: at(14, 8, 5), To: at(14, 9, 7), Way: 1}, geo.Session{From: at(14, 18, 5), To: at(15, 1, 7), Way: 2}
	for name, c := range map[string]struct {
		some, others []geo.Session
		want         Days
	}{
		"alone":                  {[]geo.Session{evening}, nil, Days{at(14, 0, 0), at(16, 0, 0)}},
		"others of another day":  {[]geo.Session{morning}, []geo.Session{{From: at(16, 1, 0), To: at(16, 2, 0)}}, Days{at(14, 0, 0), at(15, 0, 0)}},
		"others of the same day": {[]geo.Session{evening}, []geo.Session{morning}, Days{at(14, 18, 5), at(15, 1, 8)}},
	} {
		if got := daysOf(c.some, c.others); got != c.want {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
	if got := wayOf([]geo.Session{morning, evening}); got != 3 {
		t.Errorf("a way of %g m, want 3", got)
	}
}

// Two devices on one machine are nearer than half a working width: from 1 to 5 m.
func TestMachineNear(t *testing.T) {
	for width, want := range map[float64]float64{0: 2.5, 0.5: 1, 2: 1, 3: 1.5, 6: 3, 10: 5, 40: 5} {
		var s Spec
		s.Work.Width = width
		if got := s.machineNear(); got != want {
			t.Errorf("%g m wide: %g m, want %g", width, got, want)
		}
	}
}

// Tracks have numbers in a file that has several; a file is named once.
func TestNumbersAndSources(t *testing.T) {
	tracks := []geo.Track{{Source: "a"}, {Source: "b"}, {Source: "a"}, {Source: "c"}, {Source: "a"}}
	if got, want := numbers(tracks), []int{1, 0, 2, 0, 3}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if got := sources(tracks); got != "a, b, c" {
		t.Errorf("%q", got)
	}
	if got := sources(append(tracks, geo.Track{Source: "d"}, geo.Track{Source: "e"})); got != "a, b, c … (5)" {
		t.Errorf("%q", got)
	}
	got := shared([]geo.Field{{Name: "A"}, {Name: "B"}, {Name: "C"}, {Name: "D"}}, []int{1, 60, 3, 0}, 1, 2, 66)
	if want := `60 of 66 fixes were driven on "B"; left out: 1 on "A", 3 on "C", 2 on the way between fields`; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := shared([]geo.Field{{Name: "A"}, {Name: "B"}}, []int{5, 1}, 0, 0, 6); strings.Contains(got, "between") {
		t.Errorf("%q", got)
	}
}

// Field and track belong together within a degree on both axes.
func TestTogether(t *testing.T) {
	for b, want := range map[orb.Point]bool{{11, 48}: true, {11.9, 47.1}: true, {12, 48}: false, {10, 48}: false, {11, 49}: false, {11, 47}: false, {48, 11}: false} {
		if together(orb.Point{11, 48}, b) != want {
			t.Errorf("%v: %v", b, !want)
		}
	}
}

// The mean of what is known, by weight; nothing known is 0.
func TestMean(t *testing.T) {
	var m mean
	if m.value() != 0 {
		t.Errorf("of nothing: %g", m.value())
	}
	m.take(math.NaN(), 100)
	m.take(1, 1)
	m.take(4, 2)
	if m.value() != 3 {
		t.Errorf("%g, want 3", m.value())
	}
	for name, c := range map[string]struct {
		is   Counted
		want float64
	}{"a tenth above": {Counted{11, 10}, 0.1}, "half": {Counted{5, 10}, -0.5}} {
		if got := c.is.Off(); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%s: %g", name, got)
		}
	}
	for _, c := range []Counted{{0, 10}, {10, 0}, {}} {
		if !math.IsNaN(c.Off()) {
			t.Errorf("%v: %g, want none", c, c.Off())
		}
	}
}

// What a comparison takes, and the first thing beyond each limit.
func TestComparisonIsRefused(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*CompareSpec)
		want   string // of the refusal; "": taken
	}{
		"as it is":             {func(*CompareSpec) {}, ""},
		"no boundaries":        {func(s *CompareSpec) { s.Boundary = "" }, "no file of field boundaries"},
		"no implement":         {func(s *CompareSpec) { s.Implements = nil }, "0 implements: must be from 1 to 50"},
		"50 implements":        {func(s *CompareSpec) { s.Implements = slices.Repeat(s.Implements, 50) }, ""},
		"51 implements":        {func(s *CompareSpec) { s.Implements = slices.Repeat(s.Implements, 51) }, "51 implements"},
		"one without a radius": {func(s *CompareSpec) { s.Implements = append(s.Implements, rig.Implement{Name: "bare", Width: 3}) }, `implement "bare"`},
		"a bearing of 0°":      {func(s *CompareSpec) { s.Bearing = new(float64) }, ""},
		"a bearing of 360°":    {func(s *CompareSpec) { v := 360.0; s.Bearing = &v }, ""},
		"a bearing of 361°":    {func(s *CompareSpec) { v := 361.0; s.Bearing = &v }, "bearing 361°"},
		"a bearing of -1°":     {func(s *CompareSpec) { v := -1.0; s.Bearing = &v }, "bearing -1°"},
		"bearing and edge":     {func(s *CompareSpec) { s.Bearing, s.Edge = new(float64), &[2]orb.Point{} }, "a bearing and an edge"},
		"bearing and longest":  {func(s *CompareSpec) { s.Bearing, s.Options.AlongLongest = new(float64), true }, "a bearing and an edge"},
		"edge and longest":     {func(s *CompareSpec) { s.Edge, s.Options.AlongLongest = &[2]orb.Point{}, true }, "an edge is given"},
		"an edge":              {func(s *CompareSpec) { s.Edge = &[2]orb.Point{} }, ""},
		"the longest":          {func(s *CompareSpec) { s.Options.AlongLongest = true }, ""},
		"cost without rates":   {func(s *CompareSpec) { s.Objective.Cost = 1 }, "cost"},
		"a speed of 0":         {func(s *CompareSpec) { s.Options.Speed = 0 }, "speed"},
	} {
		s := CompareSpec{Boundary: "f.geojson", Implements: []rig.Implement{Assumed(6, 0.1)}, Options: plan.Options{Speed: 8}}
		c.change(&s)
		if err := s.Validate(); (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	for direction, want := range map[float64]float64{0: 0, -10: 170, 180: 0, 190: 10, -190: 170, 359: 179} {
		if got := (CompareReport{}).Bearing(plan.Candidate{Direction: direction}); math.Abs(got-want) > 1e-12 {
			t.Errorf("%g°: rows at %g°, want %g°", direction, got, want)
		}
	}
	if (CompareReport{}).Weighed() || !(CompareReport{Spec: CompareSpec{Objective: plan.Objective{Turns: 1}}}).Weighed() {
		t.Error("a ranking is weighed where a weight is given")
	}
	if _, err := Draught(map[string]string{"a": "390"}); err == nil || !strings.Contains(err.Error(), "soil") {
		t.Errorf("draught without the soil: %v", err)
	}
	if d, err := Draught(nil); err != nil || d != (plan.Draught{}) {
		t.Errorf("no draught: %+v (%v)", d, err)
	}
}

// Work of two days over the same ground, or more than a week apart, is listed operation by operation, a line each, with what chooses the last.
func TestOperationsAreListed(t *testing.T) {
	field := geo.Field{Number: 1, Name: "Acre", Boundary: orb.MultiPolygon{{{{11, 48}, {11.01, 48}, {11.01, 48.01}, {11, 48.01}, {11, 48}}}}}
	day := func(date int, lat float64) geo.Track {
		from := float64(time.Date(2026, 4, date, 6, 0, 0, 0, time.UTC).Unix())
		var flat []float64
		for i := range 100 {
			flat = append(flat, 11.001+float64(i)*0.00005, lat, from+float64(i))
		}
		return geo.Track{Source: "log", Line: geom.NewMultiLineStringFlat(geom.XYM, flat, []int{len(flat)})}
	}
	var r Report
	r.Field.Name, r.Spec.Work.Width = "Acre", 6
	_, err := r.operation(field, []geo.Track{day(1, 48.002), day(14, 48.005)})
	if err == nil {
		t.Fatal("two operations are taken as one")
	}
	lines := strings.Split(err.Error(), "\n")
	if len(lines) != 4 || !strings.Contains(lines[0], "2 operations") || !strings.HasPrefix(lines[1], "  1  2026-04-01") || !strings.HasPrefix(lines[2], "  2  2026-04-14") ||
		!strings.HasSuffix(lines[2], "  0 % on the same ground as the one before") || strings.Contains(lines[1], "same ground") || !strings.HasPrefix(lines[3], "hint: choose one with --days 2026-04-14,") {
		t.Errorf("%q", lines)
	}
	r = Report{}
	r.Spec.Work.Width = 6
	if kept, err := r.operation(field, []geo.Track{day(1, 48.002), day(2, 48.005)}); err != nil || len(kept) != 2 || len(r.Findings) != 1 {
		t.Errorf("two days beside each other: %v, findings %v", err, r.Findings)
	}
}

// A quarter of the equator, a tenth of a degree across the antimeridian, and the way from pole to pole (the metre's first definition made a quarter 10,000 km).
func TestOnSphere(t *testing.T) {
	for _, c := range []struct {
		a, b orb.Point
		want float64
	}{
		{orb.Point{0, 0}, orb.Point{90, 0}, 10007557},
		{orb.Point{179.95, 0}, orb.Point{-179.95, 0}, 11119.5},
		{orb.Point{10, 90}, orb.Point{-20, -90}, 20015115},
		{orb.Point{11, 48}, orb.Point{11, 48}, 0},
	} {
		if got := onSphere(c.a, c.b); math.Abs(got-c.want) > 1 {
			t.Errorf("%v to %v: %.1f m, want %.1f", c.a, c.b, got, c.want)
		}
	}
}
