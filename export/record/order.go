package record

import (
	"fmt"
	"io"
	"strings"

	"balk/export/words"
)

// Order is the order of work: what is to be done on one field, and what that is expected to come to.
// Lengths are metres, areas m², times seconds unless a name says otherwise. Details.Fuel is what is expected.
type Order struct {
	Details
	Field      string    `json:"field"`
	Number     int       `json:"number"`
	Area       float64   `json:"area"`
	Width      float64   `json:"width"`
	Overlap    float64   `json:"overlap"`
	Bearing    float64   `json:"bearing"`        // degrees from true north, of the rows, either way
	Also       []float64 `json:"also,omitempty"` // of rows in other arms of the field
	Rounds     int       `json:"rounds"`         // headland rounds
	Headland   float64   `json:"headland"`
	First      bool      `json:"headlandFirst,omitempty"` // the rounds come before the rows
	Trodden    float64   `json:"trodden,omitempty"`       // under tyres after the cut; 0 also where tyres are not known
	Passes     int       `json:"passes"`
	Blocks     int       `json:"blocks"`
	Turns      int       `json:"turns"`
	Runs       int       `json:"runs"`            // with the tool lifted
	Small      int       `json:"small,omitempty"` // obstacles without rounds about them
	Bends      int       `json:"bends,omitempty"` // of rows and rounds past these
	Lifts      int       `json:"lifts,omitempty"` // of the tool for these; the runs between count as such
	Unfit      []string  `json:"unfit,omitempty"`
	Way        float64   `json:"way"` // of work
	Working    float64   `json:"working"`
	Turning    float64   `json:"turning"`
	Idle       float64   `json:"idle"`       // runs, and roads between parts
	OnField    float64   `json:"onField"`    // all of it
	Speed      float64   `json:"speed"`      // m/s while working
	Capacity   float64   `json:"capacity"`   // m²/s, effective field capacity
	Efficiency float64   `json:"efficiency"` // field efficiency
	Missed     float64   `json:"missed"`
	Double     float64   `json:"double"`
	FuelBasis  string    `json:"fuelBasis,omitempty"` // what the fuel rests on, and where each value comes from
}

// Text writes the order to be read and signed. Error: a language that is not known.
func (o Order) Text(w io.Writer, l words.Language) error {
	if err := l.Validate(); err != nil {
		return err
	}
	b := page{Language: l}
	b.begin("Order of work", o.Details, o.Field, o.Number)
	b.line("Planned for", strings.Repeat("_", 24))
	b.line("Working width", l.Say("%.2f m", o.Width))
	b.line("Planned overlap", l.Say("%.2f m", o.Overlap))

	b.head("Work")
	b.item("Rows", l.Say("at %s from true north, %s in %s", l.Bearings(o.Bearing, o.Also, 1), l.Count(o.Passes, "pass"), l.Count(o.Blocks, "block")))
	headland := l.Say("rounds: %d, %.1f m wide", o.Rounds, o.Headland)
	if order := "last, from the inside out"; o.Rounds > 0 {
		if o.First {
			order = "first, from the outside in"
		}
		headland += "; " + l.Word(order)
	}
	b.item("Headland", headland)
	b.item("Passes and rounds", l.Say("%.2f km, %s", o.Way/1000, words.Clock(o.Working)))
	b.item("Turns", fmt.Sprintf("%d, %s", o.Turns, words.Clock(o.Turning)))
	b.item("Runs, tool lifted", fmt.Sprint(o.Runs))
	b.item("Runs and roads", words.Clock(o.Idle))
	if o.Small > 0 {
		b.item("Small obstacles", l.Say("without rounds: %d; bends: %d, lifts: %d", o.Small, o.Bends, o.Lifts))
	}
	b.item("Expected time on the field", words.Clock(o.OnField))
	b.pace(o.Speed, o.Capacity, o.Efficiency)
	if o.Fuel > 0 {
		b.item("Expected fuel", l.Say("%.1f l, %.1f l per hectare", o.Fuel, o.Fuel/(o.Area/1e4)))
		if o.FuelBasis != "" {
			b.WriteString(words.Wrap(o.FuelBasis, "    ") + "\n")
		}
	}

	b.head("Expected areas")
	b.area("Field", o.Area, o.Area)
	b.area("Missed", o.Missed, o.Area)
	b.area("Twice or more", o.Double, o.Area)
	if o.Trodden > 0 {
		b.area("Under tyres after the cut", o.Trodden, o.Area)
	}

	b.head("What finds no room as planned")
	if len(o.Unfit) == 0 {
		b.WriteString("  " + l.Word("every turn and run fits, the set's margin kept") + "\n")
	}
	for _, why := range o.Unfit {
		b.WriteString(words.Wrap(why, "  ") + "\n")
	}
	b.end(o.Remarks, l.BeforeWork())
	_, err := io.WriteString(w, b.String())
	return err
}

// JSON writes the order for another program.
func (o Order) JSON(w io.Writer) error { return indented(w, o) }
