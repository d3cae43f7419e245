package geo

import (
	"fmt"
	"math"
	"reflect"
	"slices"
)

// Columns are what is logged at each fix of a track beside its place and time. A column is either nil
// (not logged) or as long as the track has fixes.
//
// This is the one list of them: what is done to a track is done to all of them by the functions below, which
// walk the fields of this struct. So a further logged value is one line here, with the name it has in
// messages, and nothing else in this package.
type Columns struct {
	State   []WorkState `name:"work state"`
	Width   []float64   `name:"width"`   // m, of what of the bar was at work
	Heading []Bearing   `name:"heading"` // degrees from true north, NaN where not logged; see Track.Course
	// Offset is how far the middle of the worked width lies to the right of the
	// antenna's line, m (sections switched off on one side).
	Offset  []float64 `name:"offset"`
	Quality []Quality `name:"quality"`
	HDOP    []float64 `name:"HDOP"`  // NaN where not logged
	Speed   []float64 `name:"speed"` // m/s, NaN where not logged
	// Height is that of the antenna above whatever the receiver counts from, m, NaN where not logged: only differences within one log say something.
	Height []float64 `name:"height"`
}

// Ranges of columns. Wider than any machine: a value outside is a wrong unit or
// a wrong column. Common practice, no source.
const (
	MaxWidth = 200.0 // m
	MaxSpeed = 100.0 // m/s
	// Ground lies from the Dead Sea to the passes of the Himalaya (atlas, from memory), and with a height over the ellipsoid 100 m beside that.
	LeastHeight, MaxHeight = -600.0, 9000.0 // m
)

// column is one column, whatever its values are.
type column interface {
	fixes() int
	keep(rows []int)
	drop(gone []bool)
	clone()
	grow(n int)
	slice(from, to int)
	join(n int, o column, m int)
	gather(from []column, rows []row)
}

// row is a fix of one of several tracks.
type row struct{ of, fix int }

// columnsOf are the columns among the fields of a struct, in their order, with their names. Fields that are no
// slice are none.
func columnsOf(set any) (columns []column, names []string) {
	v := reflect.ValueOf(set).Elem()
	for i := range v.NumField() {
		field := v.Type().Field(i)
		if field.Type.Kind() != reflect.Slice {
			continue
		}
		var c column
		switch at := v.Field(i).Addr().Interface().(type) {
		case *[]float64:
			c = values[float64]{at, math.NaN()}
		case *[]Bearing:
			c = values[Bearing]{at, Bearing(math.NaN())}
		case *[]WorkState:
			c = values[WorkState]{at, StateUnknown}
		case *[]Quality:
			c = values[Quality]{at, QualityUnknown}
		case *[]int32:
			c = values[int32]{at, NoPass}
		default:
			panic(fmt.Sprintf("geo: column %s holds values of a type without one for not logged", field.Name))
		}
		columns, names = append(columns, c), append(names, field.Tag.Get("name"))
	}
	return columns, names
}

// Fits is an error that names the first column that is neither nil nor n values long; nil: all are.
func (c Columns) Fits(n int) error {
	v := reflect.ValueOf(c)
	for i := range v.NumField() {
		if l := v.Field(i).Len(); l != 0 && l != n {
			return fmt.Errorf("column %s has %d values for %d fixes", v.Type().Field(i).Tag.Get("name"), l, n)
		}
	}
	return nil
}

// Logged are the names of the columns that are there.
func (c Columns) Logged() (there []string) {
	columns, names := columnsOf(&c)
	for i, one := range columns {
		if one.fixes() > 0 {
			there = append(there, names[i])
		}
	}
	return there
}

// Keep are the columns of some fixes, in the order of rows.
func (c Columns) Keep(rows []int) Columns { return *keep(&c, rows) }

// keep takes the columns of a struct to those of some fixes, without changing the values it had.
func keep[T any](set *T, rows []int) *T {
	columns, _ := columnsOf(set)
	for _, one := range columns {
		one.keep(rows)
	}
	return set
}

// Slice are the columns of the fixes from..to-1. They share their values with c.
func (c Columns) Slice(from, to int) Columns {
	columns, _ := columnsOf(&c)
	for _, one := range columns {
		one.slice(from, to)
	}
	return c
}

// Join appends to the columns of n fixes those of the m ones of another track. What one of the two has not logged
// stays not logged at its fixes: no value is taken from the other.
func (c *Columns) Join(n int, o Columns, m int) {
	columns, _ := columnsOf(c)
	others, _ := columnsOf(&o)
	for i, one := range columns {
		one.join(n, others[i], m)
	}
}

// gathered are the columns of fixes of several tracks, in the order of rows. A column is there if a track
// has it; at the fixes of the others it says that nothing is logged.
func gathered(from []Columns, rows []row) (out Columns) {
	all := make([][]column, len(from))
	for i := range from {
		all[i], _ = columnsOf(&from[i])
	}
	columns, _ := columnsOf(&out)
	for i, one := range columns {
		of := make([]column, len(from))
		for k := range from {
			of[k] = all[k][i]
		}
		one.gather(of, rows)
	}
	return out
}

// clone makes the values its own, so that they can be changed.
func (c *Columns) clone() {
	columns, _ := columnsOf(c)
	for _, one := range columns {
		one.clone()
	}
}

// Grow makes room for n more values in the columns that are there.
func (c *Columns) Grow(n int) {
	columns, _ := columnsOf(c)
	for _, one := range columns {
		one.grow(n)
	}
}

// drop takes the marked fixes out, in place.
func (c *Columns) drop(gone []bool) {
	columns, _ := columnsOf(c)
	for _, one := range columns {
		one.drop(gone)
	}
}

// values is a column of values of one type; absent stands for one that is not logged.
type values[T any] struct {
	at     *[]T
	absent T
}

func (v values[T]) fixes() int { return len(*v.at) }

func (v values[T]) clone() { *v.at = slices.Clone(*v.at) }

func (v values[T]) grow(n int) {
	if *v.at != nil {
		*v.at = slices.Grow(*v.at, n)
	}
}

func (v values[T]) keep(rows []int) {
	if len(*v.at) == 0 {
		return
	}
	out := make([]T, len(rows))
	for i, k := range rows {
		out[i] = (*v.at)[k]
	}
	*v.at = out
}

func (v values[T]) slice(from, to int) {
	if len(*v.at) > 0 {
		*v.at = (*v.at)[from:to]
	}
}

func (v values[T]) join(n int, o column, m int) {
	more := *o.(values[T]).at
	if len(*v.at) == 0 && len(more) == 0 {
		return
	}
	if len(*v.at) == 0 {
		*v.at = slices.Repeat([]T{v.absent}, n)
	}
	if len(more) == 0 {
		more = slices.Repeat([]T{v.absent}, m)
	}
	*v.at = append(*v.at, more...)
}

func (v values[T]) drop(gone []bool) {
	if *v.at != nil {
		*v.at = without(*v.at, gone)
	}
}

func (v values[T]) gather(from []column, rows []row) {
	logged := make([][]T, len(from))
	any := false
	for i, c := range from {
		logged[i] = *c.(values[T]).at
		any = any || len(logged[i]) > 0
	}
	if !any {
		return
	}
	out := make([]T, len(rows))
	for i, r := range rows {
		if out[i] = v.absent; len(logged[r.of]) > 0 {
			out[i] = logged[r.of][r.fix]
		}
	}
	*v.at = out
}
