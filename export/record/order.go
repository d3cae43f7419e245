package record

import (
	"fmt"
	"io"
	"strings"
)

// Order is the order of work: what is to be done on one field, and what that is expected to come to.
// Lengths are metres, areas m², times seconds unless a name says otherwise. Details.Fuel is what is expected.
type Order struct {
	Details
	Field      string   `json:"field"`
	Number     int      `json:"number"`
	Area       float64  `json:"area"`
	Width      float64  `json:"width"`
	Overlap    float64  `json:"overlap"`
	Bearing    float64  `json:"bearing"` // degrees from true north, of the rows, either way
	Rounds     int      `json:"rounds"`  // headland rounds
	Headland   float64  `json:"headland"`
	Passes     int      `json:"passes"`
	Blocks     int      `json:"blocks"`
	Turns      int      `json:"turns"`
	Runs       int      `json:"runs"` // with the tool lifted
	Unfit      []string `json:"unfit,omitempty"`
	Way        float64  `json:"way"` // of work
	Working    float64  `json:"working"`
	Turning    float64  `json:"turning"`
	Idle       float64  `json:"idle"`       // runs, and roads between parts
	OnField    float64  `json:"onField"`    // all of it
	Speed      float64  `json:"speed"`      // m/s while working
	Capacity   float64  `json:"capacity"`   // m²/s, effective field capacity
	Efficiency float64  `json:"efficiency"` // field efficiency
	Missed     float64  `json:"missed"`
	Double     float64  `json:"double"`
}

// orderWords are those of an order that no record has.
type orderWords struct {
	title, planned, work, rows, rowsAt, headland, rounds, passes, turns, runs, idle, all, expected, missed, double, fuel, unfit, allFits, caution string
}

var orderLexicon = map[Language]orderWords{
	English: {
		title: "Order of work", planned: "Planned for", work: "Work", rows: "Rows", rowsAt: "at %s° from true north, %d passes in blocks: %d",
		headland: "Headland", rounds: "rounds: %d, %s m deep", passes: "Passes and rounds", turns: "Turns", runs: "Runs, tool lifted", idle: "Runs and roads", all: "Expected time on the field",
		expected: "Expected areas", missed: "Missed", double: "Twice or more", fuel: "Expected fuel", unfit: "What finds no room as planned", allFits: "every turn and run fits, the set's margin kept",
		caution: "A plan is no survey: look at the ground first. Before anyone drives: watch overhead lines when folding, slopes and rollover, wet ground and drains, drawbar and axle loads, the drawbar folding " +
			"when reversing, road width and permits, people nearby and buried services. Local rules, the machine's manual and licensed practice come first.",
	},
	German: {
		title: "Arbeitsauftrag", planned: "Geplant für", work: "Arbeit", rows: "Reihen", rowsAt: "in %s° von Nord, %d Fahrten, Blöcke: %d",
		headland: "Vorgewende", rounds: "Runden: %d, %s m tief", passes: "Fahrten und Runden", turns: "Wendungen", runs: "Leerfahrten", idle: "Leerfahrten und Straße", all: "Erwartete Zeit auf dem Schlag",
		expected: "Erwartete Flächen", missed: "Ausgelassen", double: "Zweimal oder öfter", fuel: "Erwarteter Kraftstoff", unfit: "Was so keinen Platz findet", allFits: "alle Wendungen und Leerfahrten passen mit dem Abstand des Gespanns",
		caution: "Ein Plan ist keine Vermessung: erst den Schlag ansehen. Bevor gefahren wird: auf Freileitungen beim Klappen, Hänge und Kippgefahr, nassen Boden und Dräne, Deichsel- und Achslasten, das Einknicken der Deichsel " +
			"beim Rückwärtsfahren, Fahrzeugbreite und Genehmigungen, Personen in der Nähe und verlegte Leitungen achten. Örtliche Vorschriften, die Betriebsanleitung und die Fachpraxis gehen vor.",
	},
}

// Text writes the order to be read and signed. Error: a language that is not known.
func (o Order) Text(w io.Writer, l Language) error {
	t, ok := lexicon[l]
	if !ok {
		return fmt.Errorf("language %q: must be one of %v", l, Languages())
	}
	u := orderLexicon[l]
	b := page{words: t, language: l}
	b.begin(u.title, o.Details, o.Field, o.Number)
	b.line(u.planned, strings.Repeat("_", 24))
	b.line(t.width, l.number(o.Width, 2)+" m")
	b.line(t.overlap, l.number(o.Overlap, 2)+" m")

	b.head(u.work)
	b.line("  "+u.rows, fmt.Sprintf(u.rowsAt, l.number(o.Bearing, 1), o.Passes, o.Blocks))
	b.line("  "+u.headland, fmt.Sprintf(u.rounds, o.Rounds, l.number(o.Headland, 1)))
	b.line("  "+u.passes, fmt.Sprintf("%s km, %s", l.number(o.Way/1000, 2), clock(o.Working)))
	b.line("  "+u.turns, fmt.Sprintf("%d, %s", o.Turns, clock(o.Turning)))
	b.line("  "+u.runs, fmt.Sprint(o.Runs))
	b.line("  "+u.idle, clock(o.Idle))
	b.line("  "+u.all, clock(o.OnField))
	b.pace(o.Speed, o.Capacity, o.Efficiency)
	if o.Fuel > 0 {
		b.line("  "+u.fuel, fmt.Sprintf("%s l, %s l %s", l.number(o.Fuel, 1), l.number(o.Fuel/(o.Area/1e4), 1), t.perHectare))
	}

	b.head(u.expected)
	b.area(t.area, o.Area, o.Area)
	b.area(u.missed, o.Missed, o.Area)
	b.area(u.double, o.Double, o.Area)

	b.head(u.unfit)
	if len(o.Unfit) == 0 {
		b.WriteString("  " + u.allFits + "\n")
	}
	for _, why := range o.Unfit {
		b.WriteString(wrapped(why, "  ") + "\n")
	}
	b.end(o.Remarks, u.caution)
	_, err := io.WriteString(w, b.String())
	return err
}

// JSON writes the order for another program.
func (o Order) JSON(w io.Writer) error { return indented(w, o) }
