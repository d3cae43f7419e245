package job

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"balk/coverage/rework"
	"balk/coverage/spots"
	"balk/export/answer"
	"balk/export/sheet"
	"balk/export/vector"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"
	"balk/geo/read"

	"github.com/paulmach/orb"
)

// SpotsPlanSpec says where to kneel.
type SpotsPlanSpec struct {
	Spec
	Draw spots.Draw `json:"draw"`
	Gate *orb.Point `json:"gate,omitempty"` // lon, lat where the walk begins and ends; nil = the boundary nearest to a place
	Zone string     `json:"zone,omitempty"` // time zone of the paper; "" = UTC
}

// Validate says what is wrong with s; it opens no files.
func (s SpotsPlanSpec) Validate() error {
	if err := s.Draw.Validate(); err != nil {
		return err
	}
	if _, err := zoneOf("paper", s.Zone); err != nil {
		return err
	}
	return s.Spec.Validate()
}

// SpotPlace is a place to kneel.
type SpotPlace struct {
	Number   int            `json:"number"` // in the order walked
	At       orb.Point      `json:"at"`     // lon, lat
	Why      geo.SpotReason `json:"why"`
	Pass     int            `json:"pass,omitempty"`
	Bearing  geo.Bearing    `json:"bearing"` // of its travel
	Section  int            `json:"section,omitempty"`
	FromLeft float64        `json:"fromLeft"` // m from the bar's left end to where the strip to brush free begins
	Length   float64        `json:"length"`   // m of it
	Headland bool           `json:"headland"`
	Strip    int            `json:"strip,omitempty"`
}

// SpotsPlanReport is where to kneel. Lengths are m, places lon/lat.
type SpotsPlanReport struct {
	Answer   []string      `json:"answer"` // in sentences, in the language of Spec
	Spec     SpotsPlanSpec `json:"spec"`
	Field    FieldName     `json:"field"`
	Places   []SpotPlace   `json:"places"` // in the order walked
	Walk     float64       `json:"walk"`   // m, from the gate over all places and back
	Proves   spots.Share   `json:"proves"` // what the drawn places prove where none of them has a fault
	Findings []geo.Finding `json:"findings"`
	Placed
}

// placesNames are the files of a walk.
var placesNames = []string{"places.gpx", "places.csv", "places.geojson", "places.pdf"}

// PlanSpots draws places to kneel, and puts them into an order to walk. A *WrongCall is the caller's fault.
func PlanSpots(ctx context.Context, s SpotsPlanSpec, call *Call) (SpotsPlanReport, error) {
	call = call.ready()
	rep := SpotsPlanReport{Spec: s, Answer: []string{}, Places: []SpotPlace{}, Findings: []geo.Finding{}}
	if err := s.Validate(); err != nil {
		return rep, &WrongCall{err}
	}
	judged, result, err := judge(ctx, s.Spec, nil, &targets{sure: append([]string{reportFile}, placesNames...)}, call)
	rep.Findings = append(rep.Findings, judged.Findings...)
	if err != nil {
		return rep, err
	}
	rep.Spec.Spec, rep.Field = judged.Spec, judged.Field
	op := spots.OperationOf("", result)
	drawn, err := spots.Places(op, s.Draw)
	if err != nil {
		return rep, err
	}
	var gate *plane.XY
	if from := cmp.Or(s.Gate, judged.gate); from != nil {
		at, err := gateOn(result.Local, op.Field, *from)
		if err != nil {
			return rep, err
		}
		gate = &at
	}
	at := make([]plane.XY, len(drawn))
	for k, p := range drawn {
		at[k] = p.At
	}
	order, ways, err := rework.Walk(ctx, op.Field, gate, at)
	if err != nil {
		return rep, err
	}
	walk := sheet.SpotWalk{Field: result.Field, Local: result.Local, Ground: op.Field, Ways: ways}
	for n, k := range order {
		p := drawn[k]
		walk.Places = append(walk.Places, p)
		rep.Places = append(rep.Places, SpotPlace{Number: n + 1, At: fine(result.Local.Point(p.At)), Why: p.Why, Pass: p.Pass, Bearing: p.Bearing, Section: p.Section, FromLeft: p.FromLeft, Length: p.Length, Headland: p.Headland, Strip: p.Strip})
	}
	for _, way := range ways {
		rep.Walk += plane.Length(way)
	}
	rep.Proves = spots.Proves(drawn)
	rep.Answer = append(rep.Answer, answer.SpotWalk(s.Language, len(drawn), rep.Walk), answer.Provable(s.Language, rep.Proves))
	if s.Out == "" {
		return rep, nil
	}
	walk.Proves = rep.Answer[1]
	page := s.page()
	if page.Zone, err = zoneOf("paper", s.Zone); err != nil {
		return rep, &WrongCall{err}
	}
	places, way := rep.layers(walk)
	files := []output{
		{name: placesNames[0], write: func(w io.Writer) error {
			return vector.WriteGPX(w, rep.Field.title(), []vector.Layer{places, way}, time.Time{})
		}},
		{name: placesNames[1], write: func(w io.Writer) error { return read.WriteSpots(w, rep.table(), s.Language == words.German) }},
		{name: placesNames[2], write: func(w io.Writer) error { return vector.WriteGeoJSON(w, places) }},
		{name: placesNames[3], write: func(w io.Writer) error { return sheet.SpotPDF(w, walk, page) }},
	}
	return rep, call.fill(ctx, s.Out, "spots plan", files, &rep.Placed, func(w io.Writer) error { return rep.JSON(w) })
}

// fine rounds a place to 7 decimals of a degree, a centimetre: nobody kneels more exactly.
func fine(p orb.Point) orb.Point {
	return orb.Point{math.Round(p[0]*1e7) / 1e7, math.Round(p[1]*1e7) / 1e7}
}

// table are the places as spot checks to be filled in.
func (r *SpotsPlanReport) table() []geo.SpotCheck {
	var out []geo.SpotCheck
	for _, p := range r.Places {
		out = append(out, geo.SpotCheck{ID: strconv.Itoa(p.Number), At: &p.At, Why: p.Why, Pass: p.Pass, Section: p.Section, Strip: p.Strip, From: p.FromLeft, Length: p.Length})
	}
	return out
}

// layers are the places and the way between them.
func (r *SpotsPlanReport) layers(walk sheet.SpotWalk) (places, way vector.Layer) {
	l := r.Spec.Language
	places = vector.Layer{Name: "places", Title: l.Word("Places to kneel"), Kind: vector.Points, Label: "name", Style: vector.Style{Line: "#27364A", Width: 2},
		Columns: []vector.Property{
			{Name: "name", Holds: vector.Words}, {Name: "number", Holds: vector.Whole}, {Name: "why", Title: "chosen", Holds: vector.Words}, {Name: "pass", Holds: vector.Whole}, {Name: "section", Title: "section from the left", Holds: vector.Whole},
			{Name: "from_left_m", Title: "from the bar's left end", Unit: "m", Holds: vector.Number, Decimals: 2}, {Name: "length_m", Title: "brush free", Unit: "m", Holds: vector.Number, Decimals: 2},
			{Name: "bearing_deg", Title: "direction of travel", Unit: "°", Holds: vector.Number, Decimals: 0}, {Name: "strip", Holds: vector.Whole},
		}}
	for _, p := range r.Places {
		row := []any{strconv.Itoa(p.Number), p.Number, string(p.Why), nil, nil, nil, nil, nil, nil}
		if p.Pass > 0 {
			row[0] = l.Say("%d · pass %d, section %d", p.Number, p.Pass, p.Section)
			row[3], row[4], row[5], row[6], row[7] = p.Pass, p.Section, p.FromLeft, p.Length, float64(p.Bearing)
		}
		if p.Strip > 0 {
			row[8] = p.Strip
		}
		places.Features = append(places.Features, vector.Feature{Geometry: p.At, Row: row})
	}
	way = vector.Layer{Name: "walk", Title: l.Word("The walk"), Kind: vector.Lines, Label: "name", Style: vector.Style{Line: "#27364A", Width: 1, Dashed: true},
		Columns: []vector.Property{{Name: "name", Holds: vector.Words}, {Name: "length_m", Title: "length", Unit: "m", Holds: vector.Number, Decimals: 0}}}
	var line orb.LineString
	for _, part := range walk.Ways {
		for _, q := range part {
			if p := fine(walk.Local.Point(q)); len(line) == 0 || line[len(line)-1] != p {
				line = append(line, p)
			}
		}
	}
	if len(line) > 1 {
		way.Features = []vector.Feature{{Geometry: vector.Halved(line), Row: []any{fmt.Sprintf("%.0f m", r.Walk), r.Walk}}}
	}
	return vector.Marked(places), vector.Marked(way)
}

// JSON writes the report.
func (r SpotsPlanReport) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SpotsPlanReport
	}{madeBy(), r})
}
