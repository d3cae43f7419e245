package ground

import (
	"iter"
	"math"

	"balk/coverage/drive"
	"balk/geo/plane"
)

const (
	// bandsMost is into how many bands a field is cut.
	bandsMost = 15
	// bandsReach: what the receiver's slow error makes in bands so far apart is not counted as common: two thirds of a field are more than ten
	// minutes' work, but on the smallest.
	bandsReach = 10
)

// bands cut a field into strips of one breadth along the way most of the work was driven.
type bands struct {
	way          plane.XY // unit
	low, breadth float64  // m, how far to the left of way the first begins, and how wide each is
}

func bandsOf(field []plane.Polygon, runs iter.Seq2[int, drive.Run]) bands {
	var cos2, sin2 float64 // of twice the angle, so that forth and back are one way
	for _, one := range runs {
		for k := 1; k < len(one.Stops); k++ {
			if e := one.Stops[k].At.Sub(one.Stops[k-1].At); e.Len() > 0 {
				cos2, sin2 = cos2+(e.X*e.X-e.Y*e.Y)/e.Len(), sin2+2*e.X*e.Y/e.Len()
			}
		}
	}
	sin, cos := math.Sincos(math.Atan2(sin2, cos2) / 2)
	b := bands{way: plane.XY{X: cos, Y: sin}}
	low, high := besides(field, b.way)
	b.low, b.breadth = low, (high-low)/bandsMost
	return b
}

// besides is between which distances to the left of a way, of length 1, a field lies, m.
func besides(field []plane.Polygon, way plane.XY) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, p := range field {
		for _, q := range p[0] {
			aside := way.Cross(q)
			low, high = min(low, aside), max(high, aside)
		}
	}
	return low, high
}

// banded is ground in m² by bands.
type banded [bandsMost]float64

func (b banded) sum() (all float64) {
	for _, x := range b {
		all += x
	}
	return all
}

func sums(draws []banded) []float64 {
	out := make([]float64, len(draws))
	for k, d := range draws {
		out[k] = d.sum()
	}
	return out
}

// spreadOf is the mean over draws of the ground in all bands, and its variance by the receiver's slow error. The sums of sixteen draws in pairs
// tell their deviation to one in four, by which a range was now half as wide as it should be and now half as wide again. What passes some minutes
// apart err by has little in common, so the variance is nearly the sum of the bands' own and of what neighbours have in common, and each draw tells
// all of these. What bands have in common counts by a weight that falls to zero over bandsReach (Bartlett's, Newey and West 1987), with which no
// sum comes out negative.
func spreadOf(draws []banded) (mean, variance float64) {
	var middle banded
	for _, d := range draws {
		for i, x := range d {
			middle[i] += x / float64(len(draws))
		}
	}
	for _, d := range draws {
		for i := range d {
			for j := max(0, i-bandsReach+1); j < min(len(d), i+bandsReach); j++ {
				weight := 1 - math.Abs(float64(i-j))/bandsReach
				variance += weight * (d[i] - middle[i]) * (d[j] - middle[j]) / float64(len(draws)-1)
			}
		}
	}
	return middle.sum(), variance
}
