package geo

import (
	"iter"
	"math"
	"slices"

	"balk/geo/plane"

	geom "github.com/twpayne/go-geom"
)

// fixes are the places and times of a track, to be gone through.
type fixes struct {
	flat      []float64
	stride, m int   // m: where the time stands in a fix, < 0: not logged
	ends      []int // fix after the last of each part
	at        parallel
}

func (t Track) fixes() *fixes {
	f := &fixes{flat: t.Line.FlatCoords(), stride: t.Line.Stride(), m: t.Line.Layout().MIndex()}
	f.ends = make([]int, len(t.Line.Ends()))
	for i, e := range t.Line.Ends() {
		f.ends[i] = e / f.stride
	}
	return f
}

func (f *fixes) len() int { return len(f.flat) / f.stride }

func (f *fixes) lonLat(k int) (lon, lat float64) {
	return f.flat[k*f.stride], f.flat[k*f.stride+1]
}

// seconds is the time of a fix; NaN: not logged.
func (f *fixes) seconds(k int) float64 {
	if f.m < 0 {
		return math.NaN()
	}
	s := f.flat[k*f.stride+f.m]
	if math.IsInf(s, 0) {
		return math.NaN()
	}
	return s
}

// parts are the first fix of each part and the one after its last.
func (f *fixes) parts() iter.Seq2[int, int] {
	return func(yield func(from, to int) bool) {
		start := 0
		for _, end := range f.ends {
			if !yield(start, end) {
				return
			}
			start = end
		}
	}
}

// steps are the fixes that follow another one in their part.
func (f *fixes) steps() iter.Seq[int] {
	return func(yield func(k int) bool) {
		for from, to := range f.parts() {
			for k := from + 1; k < to; k++ {
				if !yield(k) {
					return
				}
			}
		}
	}
}

// timed are the fixes from..to-1 that have a time, and it.
func (f *fixes) timed(from, to int) iter.Seq2[int, float64] {
	return func(yield func(k int, s float64) bool) {
		for k := from; k < to; k++ {
			if s := f.seconds(k); !math.IsNaN(s) && !yield(k, s) {
				return
			}
		}
	}
}

// apart is the distance of two fixes, m.
func (f *fixes) apart(a, b int) float64 {
	a, b = a*f.stride, b*f.stride
	return f.at.apart(f.flat[a], f.flat[a+1], f.flat[b], f.flat[b+1])
}

// way is how far it is along the fixes from..to-1, m.
func (f *fixes) way(from, to int) float64 {
	way := 0.0
	for k := from + 1; k < to; k++ {
		way += f.apart(k-1, k)
	}
	return way
}

// moved: steps below this are a set that stands (2 cm noise, both ends), and say
// nothing about the usual step.
const moved = 0.05 // m

// patch is a plane near a place, m east and north of it: the earth taken for flat, good to 1 % some kilometres around.
type patch struct{ lon0, lat0, cos float64 }

func patchAt(lon, lat float64) patch { return patch{lon, lat, math.Cos(lat * math.Pi / 180)} }

func (p patch) xy(lon, lat float64) (x, y float64) {
	return math.Remainder(lon-p.lon0, 360) * p.cos * degree, (lat - p.lat0) * degree
}

func (p patch) lonLat(x, y float64) (lon, lat float64) {
	return math.Remainder(p.lon0+x/(p.cos*degree), 360), p.lat0 + y/degree
}

// moment is a fix on a patch, m, and its time, s.
type moment struct {
	x, y, s    float64
	track, fix int32
}

func (m moment) xy() plane.XY { return plane.XY{X: m.x, Y: m.y} }

// usualStep is the upper median of the steps among fixes from..to-1, m; 0: none moves.
func (f *fixes) usualStep(from, to int) float64 {
	var steps []float64
	for k := from + 1; k < to; k++ {
		if d := f.apart(k-1, k); d >= moved {
			steps = append(steps, d)
		}
	}
	return upperMedian(steps)
}

// upperMedian sorts the numbers; 0: there are none.
func upperMedian(all []float64) float64 {
	if len(all) == 0 {
		return 0
	}
	slices.Sort(all)
	return all[len(all)/2]
}

// pick is a track of some fixes, in the order of rows, with all that is logged at them. begins says whether the
// i-th of them begins a part.
func (t Track) pick(rows []int, begins func(i int) bool) Track {
	f := t.fixes()
	flat := make([]float64, 0, len(rows)*f.stride)
	var ends []int
	for i, k := range rows {
		if i > 0 && begins(i) {
			ends = append(ends, len(flat))
		}
		flat = append(flat, f.flat[k*f.stride:(k+1)*f.stride]...)
	}
	if len(flat) > 0 {
		ends = append(ends, len(flat))
	}
	t.Line = geom.NewMultiLineStringFlat(t.Line.Layout(), flat, ends).SetSRID(t.Line.SRID())
	t.Columns = t.Columns.Keep(rows)
	t.Came = *keep(&t.Came, rows)
	return t
}

// byPart says of each fix in which part it lies.
func (f *fixes) byPart() []int32 {
	part := make([]int32, f.len())
	p := int32(0)
	for from, to := range f.parts() {
		for k := from; k < to; k++ {
			part[k] = p
		}
		p++
	}
	return part
}

// upTo are the numbers from..to-1.
func upTo(from, to int) []int {
	all := make([]int, 0, to-from)
	for k := from; k < to; k++ {
		all = append(all, k)
	}
	return all
}
