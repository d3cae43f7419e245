package vector

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
)

// Layers are the names of the layers Write knows, in the order a map stacks
// them.
var Layers = []string{"field", "headland", "states", "passes", "double", "unknown", "outside", "missed"}

const (
	ribbonsLayer = "ribbons" // where the layout of the sweeps is known
	barsLayer    = "bars"    // where the set has several bars
)

// LayersWith are the names of the layers: Layers, and before the missed strips the ribbons between sweeps whose layout is known, and what one of several
// bars missed.
func LayersWith(ribbons, bars bool) []string {
	layers := slices.Clone(Layers)
	for _, one := range []struct {
		is   bool
		name string
	}{{ribbons, ribbonsLayer}, {bars, barsLayer}} {
		if one.is {
			layers = slices.Insert(layers, len(layers)-1, one.name)
		}
	}
	return layers
}

// LayersIn are the names of the layers of a result.
func LayersIn(r coverage.Result) []string { return LayersWith(r.Ribbons != nil, r.Bars != nil) }

// barPiece is ground that a bar missed and another one of the set worked.
type barPiece struct {
	bar   string
	shape plane.Polygon
}

var barColumns = []column[barPiece]{
	{Property{Name: "bar", Title: "missed by the bar", Holds: Words}, func(p barPiece) any { return p.bar }},
	area(func(p barPiece) float64 { return p.shape.Area() }),
}

// source is a layer whose features are made one by one, so that it can be
// streamed. What a layer holds is said here once for all formats.
type source struct {
	Layer // without features
	n     int
	shape func(i int) shape
	row   func(i int, row []any) []any // appends; a number may be NaN here
}

// column is a property, and where its value is found.
type column[T any] struct {
	Property
	of func(T) any
}

// listed gives a source its columns and the rows of a list.
func listed[T any](l Layer, list []T, columns []column[T], shape func(i int) shape) source {
	s := source{Layer: l, n: len(list), shape: shape}
	for _, c := range columns {
		s.Columns = append(s.Columns, c.Property)
	}
	s.row = func(i int, row []any) []any {
		for _, c := range columns {
			row = append(row, c.of(list[i]))
		}
		return row
	}
	return s
}

func area[T any](of func(T) float64) column[T] {
	return column[T]{Property{Name: "area_m2", Title: "area", Unit: "m²", Holds: Number, Decimals: 2}, func(v T) any { return of(v) }}
}

func length[T any](of func(T) float64) column[T] {
	return column[T]{Property{Name: "length_m", Title: "length", Unit: "m", Holds: Number, Decimals: 2}, func(v T) any { return of(v) }}
}

var fieldColumns = []column[geo.Field]{
	{Property{Name: "name", Title: "field", Holds: Words}, func(f geo.Field) any { return f.Name }},
	{Property{Name: "number", Title: "number in the file", Holds: Whole}, func(f geo.Field) any { return f.Number }},
}

var passColumns = []column[drive.Pass]{
	{Property{Name: "pass", Holds: Whole}, func(p drive.Pass) any { return p.Number }},
	{Property{Name: "track", Holds: Whole}, func(p drive.Pass) any { return p.Track + 1 }},
	{Property{Name: "from", Unit: "UTC", Holds: Instant}, func(p drive.Pass) any { return dated(p.From) }},
	{Property{Name: "to", Unit: "UTC", Holds: Instant}, func(p drive.Pass) any { return dated(p.To) }},
	length(func(p drive.Pass) float64 { return p.Length }),
	area(func(p drive.Pass) float64 { return p.Area }),
	{Property{Name: "gaps", Title: "log gaps", Holds: Whole}, func(p drive.Pass) any { return p.Gaps }},
}

var stripColumns = []column[coverage.Strip]{
	{Property{Name: "strip", Holds: Whole}, func(s coverage.Strip) any { return s.Number }},
	area(func(s coverage.Strip) float64 { return s.Area }),
	length(func(s coverage.Strip) float64 { return s.Length }),
	{Property{Name: "mean_width_m", Short: "mean_w_m", Title: "mean width", Unit: "m", Holds: Number, Decimals: 3}, func(s coverage.Strip) any { return s.MeanWidth }},
	{Property{Name: "max_width_m", Short: "max_w_m", Title: "greatest width", Unit: "m", Holds: Number, Decimals: 3}, func(s coverage.Strip) any { return s.MaxWidth }},
	{Property{Name: "bearing_deg", Short: "bearing", Title: "bearing from true north", Unit: "°", Holds: Number, Decimals: 1}, func(s coverage.Strip) any { return float64(s.Bearing) }},
	{Property{Name: "cause", Title: "likely cause", Holds: Words}, func(s coverage.Strip) any { return string(s.Cause) }},
	{Property{Name: "passes", Title: "between passes", Holds: Wholes}, func(s coverage.Strip) any { return s.Passes }},
	{Property{Name: "get_there", Title: "to get there", Holds: Words}, func(s coverage.Strip) any { return approachWords(s.Approach) }},
	{Property{Name: "planned", Title: "planned passes not driven", Holds: Words, Listed: true}, func(s coverage.Strip) any { return plannedOf(s) }},
	{Property{Name: "surety", Title: "how sure", Holds: Words}, func(s coverage.Strip) any { return suretyOf(s.Surety) }},
	{Property{Name: "certain_m2", Short: "certain_m2", Title: "certainly missed", Unit: "m²", Holds: Number, Decimals: 2}, func(s coverage.Strip) any { return s.Certain }},
	{Property{Name: "likely_m2", Short: "likely_m2", Title: "likely missed, certain included", Unit: "m²", Holds: Number, Decimals: 2}, func(s coverage.Strip) any { return s.Likely }},
	{Property{Name: "headland", Title: "in the headland", Holds: Truth}, func(s coverage.Strip) any { return s.Headland }},
	{Property{Name: "lon", Title: "longitude", Unit: "°", Holds: Number, Decimals: decimals}, func(s coverage.Strip) any { return s.At[0] }},
	{Property{Name: "lat", Title: "latitude", Unit: "°", Holds: Number, Decimals: decimals}, func(s coverage.Strip) any { return s.At[1] }},
}

// approachWords say how to get to a strip.
func approachWords(a coverage.Approach) string {
	if a.Pass == 0 {
		return "no pass beside it"
	}
	side := "right"
	if a.Left {
		side = "left"
	}
	return fmt.Sprintf("along pass %d, %.0f m from where it began, %.1f m to its %s", a.Pass, a.Along, a.Aside, side)
}

// NonePlanned stands where no planned pass was left out.
const NonePlanned = "none"

// plannedOf names the planned passes, or none: text that is empty comes back from some
// formats as nothing.
func plannedOf(s coverage.Strip) string {
	if len(s.Planned) == 0 {
		return NonePlanned
	}
	return strings.Join(s.Planned, ", ")
}

func suretyOf(s coverage.Surety) string {
	if s == coverage.SuretyUnknown {
		return "not known"
	}
	return string(s)
}

var stretchColumns = []column[drive.Stretch]{
	{Property{Name: "activity", Holds: Words}, func(s drive.Stretch) any { return string(s.Activity) }},
	{Property{Name: "inferred", Title: "told by rules, not logged", Holds: Truth}, func(s drive.Stretch) any { return s.Inferred }},
	{Property{Name: "doubtful", Title: "the rule is often wrong here", Holds: Truth}, func(s drive.Stretch) any { return s.Doubtful }},
	{Property{Name: "why", Holds: Words}, func(s drive.Stretch) any { return s.Why }},
	{Property{Name: "track", Holds: Whole}, func(s drive.Stretch) any { return s.Track + 1 }},
	{Property{Name: "from", Unit: "UTC", Holds: Instant}, func(s drive.Stretch) any { return dated(s.From) }},
	{Property{Name: "to", Unit: "UTC", Holds: Instant}, func(s drive.Stretch) any { return dated(s.To) }},
	length(func(s drive.Stretch) float64 { return s.Length }),
}

// percent is a column of a slope, m per m, not known where not ok.
func percent[T any](name, title string, of func(T) (slope float64, ok bool)) column[T] {
	return column[T]{Property{Name: name, Title: title, Unit: "%", Holds: Number, Decimals: 1}, func(v T) any {
		if slope, ok := of(v); ok {
			return 100 * slope
		}
		return math.NaN()
	}}
}

// stripColumnsOf are those of strips: with the slope where some is known.
func stripColumnsOf(r coverage.Result) []column[coverage.Strip] {
	if r.Slope == nil {
		return stripColumns
	}
	of := func(get func(coverage.Lies) float64) func(coverage.Strip) (float64, bool) {
		return func(s coverage.Strip) (float64, bool) {
			if s.Lies == nil {
				return 0, false
			}
			return get(*s.Lies), true
		}
	}
	return append(stripColumns[:len(stripColumns):len(stripColumns)],
		percent("across_pct", "slope across it", of(func(l coverage.Lies) float64 { return l.Across })),
		percent("along_pct", "slope along it", of(func(l coverage.Lies) float64 { return l.Along })))
}

// passSlopes are columns of slopes on passes; none where none is known.
func passSlopes(r coverage.Result) []column[drive.Pass] {
	if r.Slope == nil {
		return nil
	}
	by := map[int]coverage.PassSlope{}
	for _, p := range r.Slope.Passes {
		by[p.Pass] = p
	}
	of := func(get func(coverage.PassSlope) float64) func(drive.Pass) (float64, bool) {
		return func(p drive.Pass) (float64, bool) {
			s, ok := by[p.Number]
			return get(s), ok
		}
	}
	return []column[drive.Pass]{
		percent("left_pct", "mean rise to the left", of(func(s coverage.PassSlope) float64 { return s.Across })),
		percent("across_pct", "greatest slope across", of(func(s coverage.PassSlope) float64 { return s.Most })),
		percent("up_pct", "greatest slope uphill", of(func(s coverage.PassSlope) float64 { return s.Up })),
		percent("down_pct", "greatest slope downhill", of(func(s coverage.PassSlope) float64 { return s.Down })),
	}
}

// sourceOf is one layer of a result.
func sourceOf(layer string, r coverage.Result) (source, error) {
	s, err := bareSourceOf(layer, r)
	if err != nil {
		return source{}, err
	}
	return s.marked(), nil
}

func bareSourceOf(layer string, r coverage.Result) (source, error) {
	switch layer {
	case "field":
		columns := append(fieldColumns[:len(fieldColumns):len(fieldColumns)], area(func(geo.Field) float64 { return r.Balance.Field }))
		return fieldSource(Layer{Name: layer, Title: "Field boundary", Style: Style{Line: "#222222", Width: 2}}, []geo.Field{r.Field}, columns), nil
	case "headland":
		return pieces(r, Layer{Name: layer, Title: "Headland", Style: Style{Line: "#333333", Width: 1.5, Dashed: true}}, r.Layers.Headland,
			&column[plane.Polygon]{Property{Name: "depth_m", Title: "width", Unit: "m", Holds: Number, Decimals: 2}, func(plane.Polygon) any { return r.Headland.Depth }}), nil
	case "passes":
		l := Layer{Name: layer, Title: "Passes", Kind: Lines, Label: "pass", Style: Style{Line: "#A08A4E", Width: 1}}
		return listed(l, r.Passes, append(passColumns[:len(passColumns):len(passColumns)], passSlopes(r)...), func(i int) shape { return shape{local: &r.Local, line: r.Passes[i].Line} }), nil
	case statesLayer:
		l := Layer{Name: layer, Title: "What the set did", Kind: Lines, Label: "activity", Style: Style{Line: "#555555", Width: 1}}
		log, left := drawn(r.Log)
		l.LeftOut = left
		columns := append(stretchColumns[:len(stretchColumns):len(stretchColumns)], listColumns(r.Local)...)
		return listed(l, log, columns, func(i int) shape { return shape{local: &r.Local, line: log[i].Line} }), nil
	case "double":
		return pieces(r, Layer{Name: layer, Title: "Double-worked", Style: Style{Line: "#5B7A99", Fill: "#5B7A99", Cover: 0.6}}, r.Layers.Double,
			&column[plane.Polygon]{Property{Name: "worked", Holds: Words}, func(plane.Polygon) any { return "twice or more" }}), nil
	case "unknown":
		return pieces(r, Layer{Name: layer, Title: "Unknown (log gap)", Style: Style{Line: "#6F6F6F", Fill: "#6F6F6F", Cover: 0.4, Dashed: true}}, r.Layers.Unknown,
			&column[plane.Polygon]{Property{Name: "why", Holds: Words}, func(plane.Polygon) any { return "log gap" }}), nil
	case "outside":
		return pieces(r, Layer{Name: layer, Title: "Outside the boundary", Style: Style{Line: "#B96B0C", Fill: "#E08A1E", Cover: 0.5}}, r.Layers.Outside, nil), nil
	case ribbonsLayer:
		if r.Ribbons == nil {
			break
		}
		return pieces(r, Layer{Name: layer, Title: "Ribbons between sweeps", Style: Style{Line: "#7A5C1E", Fill: "#B58F45", Cover: 0.8}}, r.Ribbons.Shapes, nil), nil
	case barsLayer:
		if r.Bars == nil {
			break
		}
		var all []barPiece
		for _, b := range r.Bars.Each {
			for _, p := range b.Shapes {
				all = append(all, barPiece{b.Name, p})
			}
		}
		l := Layer{Name: layer, Title: "Missed by one bar", Kind: Areas, Label: "bar", Style: Style{Line: "#3F6B4F", Fill: "#7FB08F", Cover: 0.7}}
		return listed(l, all, barColumns, func(i int) shape { return shape{local: &r.Local, area: all[i].shape} }), nil
	case "missed":
		s := stripSource(r.Local, r.Strips, stripColumnsOf(r))
		s.Facts = missedFacts(r)
		return s, nil
	}
	return source{}, fmt.Errorf("no layer %q (known: %v)", layer, Layers)
}

func stripSource(local geo.Local, all []coverage.Strip, columns []column[coverage.Strip]) source {
	l := Layer{Name: "missed", Title: "Missed strips", Kind: Areas, Label: "strip", Style: Style{Line: "#C2247F", Fill: "#C2247F", Cover: 0.8}}
	return listed(l, all, columns, func(i int) shape { return shape{local: &local, area: all[i].Shape} })
}

// Strips is the layer "missed" of strips of a plane, without what it says of the whole.
func Strips(local geo.Local, all []coverage.Strip) (Layer, error) {
	return stripSource(local, all, stripColumns).layer()
}

func missedFacts(r coverage.Result) []Fact {
	return []Fact{
		{Property{Name: "total_area_m2", Title: "missed in all", Unit: "m²", Holds: Number, Decimals: 2}, r.Balance.Missed},
		{Property{Name: "slivers_not_listed", Title: "slivers too narrow to list", Holds: Whole}, r.Slivers},
		{Property{Name: "slivers_area_m2", Title: "their area", Unit: "m²", Holds: Number, Decimals: 2}, r.SliverArea},
		{Property{Name: "possible_not_listed", Title: "strips that are only possible, not listed", Holds: Whole}, r.Noise.Pieces},
		{Property{Name: "possible_m2", Title: "their area", Unit: "m²", Holds: Number, Decimals: 2}, r.Noise.Area},
	}
}

// pieces is a layer of polygons numbered as they come, with their area and
// perhaps one property more.
func pieces(r coverage.Result, l Layer, polys []plane.Polygon, more *column[plane.Polygon]) source {
	l.Kind, l.Label = Areas, "number"
	columns := []column[plane.Polygon]{area(plane.Polygon.Area)}
	if more != nil {
		columns = append(columns, *more)
	}
	s := listed(l, polys, columns, func(i int) shape { return shape{local: &r.Local, area: polys[i]} })
	s.Columns = append([]Property{{Name: "number", Title: "no.", Holds: Whole}}, s.Columns...)
	rest := s.row
	s.row = func(i int, row []any) []any { return rest(i, append(row, i+1)) }
	return s
}

func fieldSource(l Layer, fields []geo.Field, columns []column[geo.Field]) source {
	l.Kind, l.Label = Areas, "name"
	return listed(l, fields, columns, func(i int) shape {
		if b := fields[i].Boundary; len(b) == 1 {
			return shape{degrees: b[0]}
		}
		return shape{degrees: fields[i].Boundary}
	})
}

// source of a layer that is there already.
func (l Layer) source() source {
	features := l.Features
	l.Features = nil
	return source{Layer: l, n: len(features),
		shape: func(i int) shape { return shape{degrees: features[i].Geometry} },
		row:   func(i int, row []any) []any { return append(row, features[i].Row...) }}
}

// layer makes all features of a source.
func (s source) layer() (Layer, error) {
	l := s.Layer
	l.Features = make([]Feature, 0, s.n)
	var round rounding
	round.whole = s.Name == statesLayer
	for i := range s.n {
		g := round.geometry(l.Kind, s.shape(i))
		if err := round.failed(l.Name, i+1); err != nil {
			return Layer{}, err
		}
		if g == nil {
			continue
		}
		row := s.row(i, make([]any, 0, len(l.Columns)))
		for k, v := range row {
			row[k] = l.Columns[k].settled(v)
		}
		l.Features = append(l.Features, Feature{g, row})
	}
	for i, f := range l.Facts {
		l.Facts[i].Value = f.settled(f.Value)
	}
	l.LeftOut += round.leftOut
	return l, nil
}

// settled rounds a number to its decimals, as text rounds it; what is no number
// and no time becomes nil.
func (p Property) settled(v any) any {
	switch x := v.(type) {
	case float64:
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return nil
		}
		if r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'f', p.Decimals, 64), 64); err == nil {
			return r
		}
	case time.Time:
		if x.IsZero() {
			return nil
		}
	}
	return v
}

// LayersOf gives the layers of a result, in the order of LayersWith: the same
// features with the same numbers as Write writes, positions rounded as there.
// LeftOut counts what Write counts as rings_lost_by_rounding. A position that
// no file can hold is a *LayerError.
func LayersOf(r coverage.Result) ([]Layer, error) {
	var out []Layer
	for _, name := range LayersIn(r) {
		s, err := sourceOf(name, r)
		if err != nil {
			return nil, err
		}
		l, err := s.layer()
		if err != nil {
			return nil, err
		}
		out = append(out, l)
	}
	return out, nil
}

// Places is the layer "places": a point in the widest spot of every missed
// strip, with the columns of the layer "missed", and a name by which a person
// finds it; nil: none but its number.
func Places(r coverage.Result, name func(coverage.Strip) string) (Layer, error) {
	l := Layer{Name: "places", Title: "Places of missed strips", Kind: Points, Style: Style{Line: "#C2247F"}}
	return ofStrips(l, r, name, func(i int) shape { return shape{degrees: r.Strips[i].At} })
}

// AlongLayer is the name of the layer that Along gives.
const AlongLayer = "along"

// Along is a line along the middle of every missed strip, with columns and names as Places: what a phone or a terminal leads along.
func Along(r coverage.Result, name func(coverage.Strip) string) (Layer, error) {
	l := Layer{Name: AlongLayer, Title: "Along missed strips", Kind: Lines, Style: Style{Line: "#C2247F", Width: 2}}
	return ofStrips(l, r, name, func(i int) shape { return shape{local: &r.Local, line: r.Strips[i].Middle()} })
}

func ofStrips(l Layer, r coverage.Result, name func(coverage.Strip) string, of func(i int) shape) (Layer, error) {
	l.Label, l.Facts = "strip", missedFacts(r)
	columns := stripColumnsOf(r)
	if name != nil {
		l.Label = "name"
		columns = append(columns[:len(columns):len(columns)], column[coverage.Strip]{Property{Name: "name", Holds: Words}, func(s coverage.Strip) any { return name(s) }})
	}
	return listed(l, r.Strips, columns, of).marked().layer()
}

// Write writes one layer of r as GeoJSON (RFC 7946: WGS84, longitude first,
// right-hand rule, no crs member). It streams: the layer is not held in memory.
func Write(w io.Writer, layer string, r coverage.Result) error {
	if layer == statesLayer { // more than the columns: it is read back as a track
		return writeStates(w, r)
	}
	s, err := sourceOf(layer, r)
	if err != nil {
		return err
	}
	return s.geojson(w, false)
}

// WriteFields writes boundaries as GeoJSON, one feature per field: a Polygon, or
// a MultiPolygon for a field in several parts.
func WriteFields(w io.Writer, fields []geo.Field) error {
	return fieldSource(Layer{Name: "fields"}, fields, fieldColumns).geojson(w, false)
}

// WriteGeoJSON writes a layer as GeoJSON, like Write. Positions that LayersOf has
// rounded stay as they are.
func WriteGeoJSON(w io.Writer, l Layer) error {
	if err := l.check(); err != nil {
		return err
	}
	return l.source().geojson(w, true)
}

// dated is t, or no time where the log has no date: none is made up.
func dated(t time.Time) time.Time {
	if !geo.Dated(t) {
		return time.Time{}
	}
	return t
}
