package geo

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"

	geom "github.com/twpayne/go-geom"
)

// numbered gives every column of the set n values that tell which column and which fix they are of: from, from + 1 ...
// It walks the fields, so that a column that is added is in it.
func numbered(from, n int) (c Columns) {
	v := reflect.ValueOf(&c).Elem()
	for i := range v.NumField() {
		column := reflect.MakeSlice(v.Field(i).Type(), n, n)
		for k := range n {
			one, value := column.Index(k), from+10*i+k
			if one.CanFloat() {
				one.SetFloat(float64(value))
			} else {
				one.SetUint(uint64(value))
			}
		}
		v.Field(i).Set(column)
	}
	return c
}

// each calls do with the values of every column as numbers; -1: NaN or 0, which is not logged.
func each(c Columns, do func(name string, values []int)) {
	v := reflect.ValueOf(c)
	for i := range v.NumField() {
		var values []int
		for k := range v.Field(i).Len() {
			one := v.Field(i).Index(k)
			switch {
			case one.CanFloat() && math.IsNaN(one.Float()), one.CanUint() && one.Uint() == 0:
				values = append(values, -1)
			case one.CanFloat():
				values = append(values, int(one.Float()))
			default:
				values = append(values, int(one.Uint()))
			}
		}
		do(v.Type().Field(i).Name, values)
	}
}

// A logged value is one line in Columns: whatever is done to a set is done to every field of it. A field that were
// passed over would have the wrong values here.
func TestEveryColumn(t *testing.T) {
	fields := reflect.TypeFor[Columns]().NumField()
	line := geom.NewMultiLineStringFlat(geom.XYM, []float64{10, 50, 1, 11, 50, 2, 12, 50, 3, 13, 50, 4, 14, 50, 5}, []int{9, 15})
	track := Track{Line: line, Columns: numbered(1, 5)}
	clone := numbered(1, 5)
	clone.clone()
	joined := func(c Columns, n int, o Columns, m int) Columns {
		c.Join(n, o, m)
		return c
	}
	same := numbered(1, 5)
	same.drop([]bool{true, false, false, true, false})
	for _, c := range []struct {
		name string
		got  Columns
		want []int // of the column 0; each further one has 10 more
	}{
		{"keep in another order", numbered(1, 5).Keep([]int{4, 0, 0}), []int{5, 1, 1}},
		{"keep nothing", numbered(1, 5).Keep(nil), nil},
		{"slice", numbered(1, 5).Slice(1, 3), []int{2, 3}},
		{"join", joined(numbered(1, 2), 2, numbered(5, 2), 2), []int{1, 2, 5, 6}},
		{"join to nothing logged", joined(Columns{}, 2, numbered(5, 1), 1), []int{-1, -1, 5}},
		{"join nothing logged", joined(numbered(1, 2), 2, Columns{}, 1), []int{1, 2, -1}},
		{"gather", gathered([]Columns{numbered(1, 2), {}, numbered(5, 2)}, []row{{2, 1}, {0, 0}, {1, 7}}), []int{6, 1, -1}},
		{"clone", clone, []int{1, 2, 3, 4, 5}},
		{"drop", same, []int{2, 3, 5}},
		{"cut of a track", track.Cut(func(k int) bool { return k%2 == 0 }, true).Columns, []int{1, 3, 5}},
	} {
		seen := 0
		each(c.got, func(name string, values []int) {
			var want []int
			for _, v := range c.want {
				if v >= 0 {
					v += 10 * seen
				}
				want = append(want, v)
			}
			if !slices.Equal(values, want) {
				t.Errorf("%s, %s: %v, want %v", c.name, name, values, want)
			}
			seen++
		})
		if seen != fields {
			t.Errorf("%s: %d columns, the set has %d", c.name, seen, fields)
		}
	}
}

// Cleaning and the bars take all columns along: each is told apart by its values.
func TestEveryColumnIsCleanedAndPutIntoBars(t *testing.T) {
	const n = 6
	flat := make([]float64, 0, 3*n)
	for k := range n {
		flat = append(flat, 10, 50+float64(k)*1e-5, 1e9+float64(k))
	}
	flat[3*2] = math.NaN() // no position
	columns := numbered(1, n)
	columns.State, columns.Quality = nil, nil // what they say is judged
	track := Track{Line: geom.NewMultiLineStringFlat(geom.XYM, flat, []int{3 * n}), Columns: columns}
	clean, _ := Clean(track)
	want := columns.Keep([]int{0, 1, 3, 4, 5})
	if !reflect.DeepEqual(clean.Columns, want) {
		t.Errorf("cleaned %v, want %v", clean.Columns, want)
	}
	if !reflect.DeepEqual(track.Columns, columns) {
		t.Error("cleaning changed the columns given")
	}
	sections := make([]Track, 2)
	for s := range sections {
		flat := make([]float64, 0, 3*n)
		for k := range n {
			flat = append(flat, 10+float64(s)*2e-5, 50+float64(k)*1e-5, 1e9+float64(k))
		}
		sections[s] = Track{Line: geom.NewMultiLineStringFlat(geom.XYM, flat, []int{3 * n}), Came: Came{Points: true, Section: fmt.Sprint(s)}}
	}
	sections[0].Columns = columns
	bars, _, err := Bars(sections)
	if err != nil || len(bars) != 1 {
		t.Fatalf("%d bars, %v", len(bars), err)
	}
	got := bars[0].Columns
	got.Width, got.Offset, columns.Width, columns.Offset = nil, nil, nil, nil // those of the bar
	if !reflect.DeepEqual(got, columns) {
		t.Errorf("bars have %v, want those of the first section, %v", got, columns)
	}
}

// What one of the sections does not log is not taken from another one: at its fixes nothing is said.
func TestNoColumnIsInvented(t *testing.T) {
	bar := func(s, from, to int, hdop []float64, counted *Counted) Track {
		var flat []float64
		for k := from; k < to; k++ {
			flat = append(flat, 10+float64(s)*2e-5, 50+float64(k)*1e-5, 1e9+float64(k))
		}
		return Track{Line: geom.NewMultiLineStringFlat(geom.XYM, flat, []int{len(flat)}), Columns: Columns{HDOP: hdop}, Counted: counted, Came: Came{Points: true, Section: fmt.Sprint(s)}}
	}
	// The first section begins two fixes later than the second, which logs no HDOP.
	bars, _, err := Bars([]Track{bar(0, 2, 12, slices.Repeat([]float64{0.7}, 10), nil), bar(1, 0, 12, nil, &Counted{Area: 7})})
	if err != nil || len(bars) != 1 {
		t.Fatalf("%d bars, %v", len(bars), err)
	}
	for k, v := range bars[0].HDOP {
		if known := k >= 2; known && v != 0.7 || !known && !math.IsNaN(v) {
			t.Errorf("fix %d: HDOP %g", k, v)
		}
	}
	if bars[0].Counted != nil {
		t.Errorf("the bar counts %v, which one of its sections did", *bars[0].Counted)
	}
}

func TestColumnsThatDoNotFit(t *testing.T) {
	c := numbered(1, 3)
	if err := c.Fits(3); err != nil {
		t.Error(err)
	}
	if err := (Columns{}).Fits(3); err != nil {
		t.Error(err)
	}
	v := reflect.ValueOf(&c).Elem()
	_, names := columnsOf(&c)
	for i := range v.NumField() {
		c := numbered(1, 3)
		v := reflect.ValueOf(&c).Elem()
		v.Field(i).SetLen(2)
		want := fmt.Sprintf("column %s has 2 values for 3 fixes", names[i])
		if err := c.Fits(3); names[i] == "" || err == nil || err.Error() != want {
			t.Errorf("%s: %v, want %q", v.Type().Field(i).Name, err, want)
		}
	}
	if got := (Columns{HDOP: []float64{1}, State: []WorkState{1}}).Logged(); !slices.Equal(got, []string{"work state", "HDOP"}) {
		t.Error(got)
	}
}
