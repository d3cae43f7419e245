package geo

import "github.com/paulmach/orb"

// Line is a planned line to drive along, in degrees on WGS84.
type Line struct {
	Name string
	Line orb.LineString
}
