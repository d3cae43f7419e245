package record

import (
	"encoding/json"
	"fmt"
	"io"
	"time"

	"balk/coverage"
	"balk/export/figures"
)

// Details are what no log knows. The zero value of a field leaves its line empty.
type Details struct {
	Operation   string         `json:"operation,omitempty"` // such as "undercutting"
	Implement   string         `json:"implement,omitempty"`
	Driver      string         `json:"driver,omitempty"`
	Client      string         `json:"client,omitempty"`      // for whom
	Fuel        float64        `json:"fuel,omitempty"`        // litres, as given; 0 = not given
	FuelCounted bool           `json:"fuelCounted,omitempty"` // Fuel is by the machine's own counter
	Depth       float64        `json:"depth,omitempty"`       // m, logged, mean at work; 0 = not logged
	Remarks     string         `json:"remarks,omitempty"`
	Zone        *time.Location `json:"-"` // of local time; nil = UTC
}

const maxFuel = 100_000 // litres; more is a typing error

// Validate says what is wrong with d.
func (d Details) Validate() error {
	if !(d.Fuel >= 0 && d.Fuel <= maxFuel) {
		return fmt.Errorf("fuel %g l: must be from 0 to %d l", d.Fuel, maxFuel)
	}
	return nil
}

// Record is one operation on one field. Areas are m², lengths m, times s or UTC.
type Record struct {
	Details
	Field       string        `json:"field"`
	Number      int           `json:"number"`
	From        time.Time     `json:"from,omitzero"` // of the first pass with a time
	To          time.Time     `json:"to,omitzero"`   // of the last
	Width       float64       `json:"width"`         // m, of the whole bar
	WidthFrom   string        `json:"widthFrom"`     // "given", "implement file" or "logged"
	WidthLeast  float64       `json:"widthLeast"`    // m, the least and the greatest worked with
	WidthMost   float64       `json:"widthMost"`
	WidthWhole  float64       `json:"widthWhole"` // share of the way of work with the whole bar
	Overlap     float64       `json:"overlap"`
	Area        float64       `json:"area"`     // of the field
	Credited    float64       `json:"credited"` // worked at least once
	Double      float64       `json:"double"`   // worked twice or more, part of Credited
	Missed      float64       `json:"missed"`
	MissedLeast float64       `json:"missedLeast,omitempty"` // given the receiver's error; 0 = not known
	MissedMost  float64       `json:"missedMost,omitempty"`
	Open        coverage.Open `json:"open,omitzero"` // what the log cannot tell, or tells otherwise than the set's description
	PassError   float64       `json:"passError,omitempty"`
	Unknown     float64       `json:"unknown"`
	Outside     float64       `json:"outside"`
	Strips      int           `json:"strips"`
	Passes      int           `json:"passes"`
	Way         float64       `json:"way"`                      // of work
	Working     float64       `json:"working"`                  // s; 0 = not logged, as below
	Turning     float64       `json:"turning"`                  // s
	Standing    float64       `json:"standing"`                 // s
	OnField     float64       `json:"onField"`                  // s, with what is not known, without road and breaks
	Speed       float64       `json:"speed,omitempty"`          // m/s, mean while working
	Capacity    float64       `json:"capacity"`                 // m²/s, effective field capacity
	Efficiency  float64       `json:"efficiency"`               // field efficiency
	PerHectare  float64       `json:"fuelPerHectare,omitempty"` // l/ha of credited area
	Ribbons     float64       `json:"ribbons,omitempty"`        // uncut between sweeps, part of Credited
	Trodden     float64       `json:"trodden,omitempty"`        // under tyres after the cut
	Slope       *Slope        `json:"slope,omitempty"`          // nil: heights are not logged, or do not tell
	shown       figures.Balance
}

// Slope is how the ground lies by the heights of the log; m per m.
type Slope struct {
	Mean   float64 `json:"mean"`   // where it rises most, on the way at work
	Most   float64 `json:"most"`   // the same, the greatest
	Across float64 `json:"across"` // the greatest across the way
	Map    float64 `json:"map"`    // of the field where slopes are known, as on the map
	Ground float64 `json:"ground"` // of the same, along the slope
}

// Of is the record of a result.
func Of(r coverage.Result, d Details) (Record, error) {
	if err := d.Validate(); err != nil {
		return Record{}, err
	}
	b, e, n := r.Balance, r.Effort, r.Noise
	rec := Record{
		Details: d, Field: r.Field.Name, Number: r.Field.Number, Width: r.Work.Width, WidthFrom: string(r.Bar.From), WidthLeast: r.Bar.Least, WidthMost: r.Bar.Most, WidthWhole: r.Bar.Whole, Overlap: r.Work.Overlap,
		Area: b.Field, Credited: b.Once + b.Twice + b.More, Double: b.Twice + b.More, Missed: b.Missed, Unknown: b.Unknown, Outside: b.Outside,
		Open: r.Open, PassError: n.PassError, Strips: len(r.Strips), Passes: len(r.Passes),
		Working: e.Working.Seconds, Turning: e.Turning.Seconds, Standing: e.Standing.Seconds, OnField: e.OnField,
		Speed: e.Speed.Mean, Capacity: e.EffectiveCapacity, Efficiency: e.FieldEfficiency, shown: figures.Of(b),
	}
	if r.Ribbons != nil {
		rec.Ribbons = r.Ribbons.Area
	}
	rec.Trodden = r.Trodden
	if s := r.Slope; s != nil {
		rec.Slope = &Slope{s.Mean, s.Most.Slope, s.Across.Slope, s.Map, s.Ground}
	}
	if n.PassErrorFrom != "" {
		rec.MissedLeast, rec.MissedMost = r.Telling.Missed[0], r.Telling.Missed[1]
	}
	for _, p := range r.Passes {
		rec.Way += p.Length
		if rec.From.IsZero() || !p.From.IsZero() && p.From.Before(rec.From) {
			rec.From = p.From
		}
		if p.To.After(rec.To) {
			rec.To = p.To
		}
	}
	if rec.Credited > 0 {
		rec.PerHectare = d.Fuel / (rec.Credited / 1e4)
	}
	return rec, nil
}

// JSON writes the record.
func (r Record) JSON(w io.Writer) error { return indented(w, r) }

// indented writes v as JSON for people too.
func indented(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
