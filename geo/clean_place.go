package geo

import "math"

// nullIsland: a fix at exactly 0, 0 is what receivers write for "nowhere"; it is
// believed only if the whole track lies this near to it.
const nullIsland = 1.0 // degree

// noPosition: a fix has no position if
//   - its longitude or latitude is no number or outside ±180, ±90;
//   - it lies at exactly 0, 0 and the track has a fix more than a degree from there;
//   - its quality says so, and at least as many fixes of the track say how they were won.
//     Where most say "none" the receiver did not fill the column, and it proves nothing.
func (c *cleaning) noPosition() {
	zeros, elsewhere := 0, false
	for k := 0; k < len(c.flat); k += c.stride {
		lon, lat := c.flat[k], c.flat[k+1]
		switch {
		case !OnEarth(lon, lat):
			c.drop(k/c.stride, FaultNoFix)
		case lon == 0 && lat == 0:
			zeros++
		case lon > nullIsland || lon < -nullIsland || lat > nullIsland || lat < -nullIsland:
			elsewhere = true
		}
	}
	none, won := 0, 0
	for _, q := range c.t.Quality {
		if q == QualityNone {
			none++
		} else if q != QualityUnknown {
			won++
		}
	}
	unset := none > 0 && won >= none
	if unset || zeros > 0 && elsewhere {
		for k := range c.len() {
			lon, lat := c.lonLat(k)
			if unset && c.t.Quality[k] == QualityNone || elsewhere && lon == 0 && lat == 0 {
				c.drop(k, FaultNoFix)
			}
		}
	}
	c.cut()
}

// repeats: a fix at exactly the place of the one kept before it, in the same part,
// says nothing about the way: a receiver stuck, or logged more often than it
// measures. It stays where work state, width or side shift change, and as the last of
// a part: the next part or track may go on from it. Where work states are logged the second
// of a part stays as well: the first may be the last of the track before, in another state.
func (c *cleaning) repeats() {
	for start, end := range c.parts() {
		last := start
		if len(c.t.State) > 0 {
			last++
		}
		for k := last + 1; k < end-1; k++ {
			if c.samePlace(k, last) && !c.tells(k, last) {
				c.drop(k, FaultRepeat)
				continue
			}
			last = k
		}
	}
	c.cut()
}

// parallel keeps the cosine of the latitude at work.
type parallel struct {
	band float64
	cos  float64
}

const (
	degree = 6371008.8 * math.Pi / 180 // m of a great circle on the sphere of mean radius (IUGG: (2a+b)/3 of WGS84)
	// bands per degree: within one the cosine is taken for the same. Half of 1/64
	// degree changes it by less than 0.1 % up to 82° of latitude.
	bands = 64.0
	// flatWithin: up to here the earth is taken for flat; beyond, for a sphere.
	flatWithin = 0.1 // degrees
)

// apart is the distance of two places, m, to about 1 %: enough to compare it with
// limits set for the eye. It depends on nothing but the places.
func (p *parallel) apart(lon1, lat1, lon2, lat2 float64) float64 {
	dLon, dLat := lon2-lon1, lat2-lat1
	if math.Abs(dLon) < flatWithin && math.Abs(dLat) < flatWithin {
		if band := math.Floor(lat1*bands) + 0.5; band != p.band {
			p.band, p.cos = band, math.Cos(band/bands*math.Pi/180)
		}
		dLon *= p.cos
		return degree * math.Sqrt(dLon*dLon+dLat*dLat)
	}
	// Haversine: it holds its digits at small distances and across ±180°.
	const rad = math.Pi / 180
	s, o := math.Sin(dLat*rad/2), math.Sin(dLon*rad/2)
	h := s*s + math.Cos(lat1*rad)*math.Cos(lat2*rad)*o*o
	return 2 / rad * degree * math.Asin(min(1, math.Sqrt(h)))
}
