package read

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"
)

// featureScan reads one Feature or geometry of a GeoJSON text that is in memory. It goes by its own steps, not
// through a library: those that are about read the position [] as 0, 0 and null as 0, drop a crs, and bring a second
// notation along.
type featureScan struct {
	*pull
	kind       string // what the outermost object says it is
	geometry   bool   // it has one that is not null
	collection bool   // and that is a collection
	what       string // the first thing wrong
	shapes     []geojsonShape
	row        cells // its properties; the values of those that are asked for
	id         string
}

// geojsonShape is a geometry that is no collection.
type geojsonShape struct {
	kind    string
	lists   []positionList
	numbers int // how deep the numbers lie: 1 is a list that is the coordinates; 0: there are none
	empty   int // how deep the deepest list without anything in it lies
	part    int // lists of depth 2 so far
}

// positionList is a list of positions, or an empty list.
type positionList struct {
	depth, part int // part: of the polygon it is in, for a MultiPolygon
	points      []orb.Point
}

// depths are how deep the numbers lie in what a geometry is.
var depths = map[string]int{"Point": 1, "MultiPoint": 2, "LineString": 2, "MultiLineString": 3, "Polygon": 3, "MultiPolygon": 4}

// scanFeature reads a Feature, or a geometry if bare. top: it is the whole file, and its crs has been read. The error
// says what is wrong with it.
func scanFeature(raw []byte, top, bare bool) (*featureScan, error) {
	s := &featureScan{pull: pullBytes(raw), geometry: bare}
	s.object(top, bare, 0)
	if s.err == nil && s.what != "" {
		s.err = errors.New(s.what)
	}
	return s, s.err
}

func (s *featureScan) wrong(format string, a ...any) {
	if s.what == "" {
		s.what = fmt.Sprintf(format, a...)
	}
}

func (s *featureScan) object(top, bare bool, depth int) {
	if depth > maxDepth {
		s.fail("collections nested deeper than %d", maxDepth)
		return
	}
	if s.peek() != '{' {
		s.skip()
		return
	}
	var g geojsonShape
	from := len(s.shapes)
	for key := range s.members() {
		switch string(key) {
		case "type":
			g.kind = s.plainText()
		case "crs":
			if !top {
				s.wrong("a crs inside a feature or geometry: only one for the whole file is read")
			}
			s.skip()
		case "geometry":
			s.shapes = s.shapes[:from]
			if c := s.peek(); c == '{' {
				s.geometry = true
			} else if c != 'n' {
				s.wrong("a geometry that is no object")
			}
			s.object(false, true, depth+1)
		case "geometries":
			if s.geometries(depth); !bare {
				s.shapes = s.shapes[:from]
			}
		case "coordinates":
			g = geojsonShape{kind: g.kind}
			s.coordinates(&g, 1)
			if g.numbers > 0 && g.empty == g.numbers {
				s.wrong("a position of 0 numbers: longitude and latitude are wanted")
			}
		case "properties":
			s.properties(depth)
		case "id":
			if id := s.plainText(); depth == 0 && !bare {
				s.id = id
			}
		default:
			s.skip()
		}
	}
	if depth == 0 {
		s.kind = g.kind
	}
	if s.collection = s.collection || g.kind == "GeometryCollection"; bare && g.kind != "GeometryCollection" {
		s.shapes = append(s.shapes[:from], g)
	}
}

// geometries reads the geometries of a collection.
func (s *featureScan) geometries(depth int) {
	if s.peek() != '[' {
		s.wrong("geometries that are no list")
		s.skip()
		return
	}
	for range s.items() {
		s.object(false, true, depth+1)
	}
}

// properties reads the names of properties, and the values of those that name a field or a layer.
func (s *featureScan) properties(depth int) {
	if depth > 0 || s.peek() != '{' {
		s.skip()
		return
	}
	for key := range s.members() {
		c := cell{column: string(key)}
		if c.column == ownMark || slices.ContainsFunc(fieldNames, func(want string) bool { return strings.EqualFold(c.column, want) }) {
			c.text = s.plainText()
		} else {
			s.skip()
		}
		s.row = append(s.row, c)
	}
}

// plainText is a text, or a number as text; "" for another value.
func (s *featureScan) plainText() string {
	switch c := s.peek(); {
	case c == '"':
		return strings.ToValidUTF8(string(s.text()), "\uFFFD")
	case c == '-' || c-'0' < 10:
		return strconv.FormatFloat(s.number(), 'f', -1, 64)
	}
	s.skip()
	return ""
}

// coordinates walks nested lists. A list of numbers is a position, which it gives, and how many they are.
func (s *featureScan) coordinates(g *geojsonShape, depth int) (at orb.Point, numbers int) {
	if depth > maxDepth {
		s.fail("lists nested deeper than %d", maxDepth)
		return at, 0
	}
	if s.peek() != '[' {
		s.wrong("coordinates that are no list")
		s.skip()
		return at, 0
	}
	if depth == 2 {
		g.part++
	}
	var points []orb.Point
	lists := 0
	for range s.items() {
		switch c := s.peek(); {
		case c == '[':
			lists++
			if p, n := s.coordinates(g, depth+1); n > 0 {
				points = append(points, p)
			}
		case c == '-' || c-'0' < 10:
			if v := s.number(); numbers < len(at) {
				at[numbers] = v
			}
			numbers++
		default:
			s.wrong("%q among coordinates", c)
			s.skip()
		}
	}
	switch {
	case numbers > 0 && lists > 0, numbers == 1:
		s.wrong("a position of %d numbers: longitude and latitude are wanted", numbers)
	case numbers > 0 && g.numbers != 0 && g.numbers != depth:
		s.wrong("positions in lists of different depth")
	case numbers > 0:
		g.numbers = depth
	case lists == 0:
		g.empty = max(g.empty, depth)
		g.lists = append(g.lists, positionList{depth, g.part, nil})
	case len(points) > 0:
		g.lists = append(g.lists, positionList{depth, g.part, points})
	}
	return at, numbers
}

// fault says what is wrong with the coordinates for what the geometry says it is; nil: nothing.
func (g *geojsonShape) fault() error {
	wanted, known := depths[g.kind]
	switch {
	case !known:
		return fmt.Errorf("a geometry of the type %.40q", g.kind)
	case len(g.lists) == 0 && g.numbers == 0:
		return fmt.Errorf("a %s without coordinates", g.kind)
	case g.numbers != 0 && g.numbers != wanted || g.empty >= wanted:
		return fmt.Errorf("a %s with positions in %d lists in each other: %d are wanted", g.kind, max(g.numbers, g.empty), wanted)
	}
	return nil
}

// gather collects the rings of a polygon or of several; false: it is none.
func (o *outline) gather(g *geojsonShape) bool {
	depth := depths[g.kind] - 1 // of a ring
	if g.kind != "Polygon" && g.kind != "MultiPolygon" {
		return false
	}
	part := -1
	for _, l := range g.lists {
		if l.depth != depth { // an empty polygon
			continue
		}
		if depth == 2 {
			l.part = 0
		}
		if l.part != part {
			part = l.part
			o.Parts = append(o.Parts, len(o.Rings))
		}
		o.Rings = append(o.Rings, l.points)
	}
	return true
}
