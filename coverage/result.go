package coverage

import (
	"time"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Balance is where the ground of the field went, in m².
// Field = Missed + Unknown + Once + Twice + More; Swath = worked in field, counted as often as worked, + Outside (depth counted).
type Balance struct {
	Field         float64 `json:"field"`
	Missed        float64 `json:"missed"`
	Unknown       float64 `json:"unknown"`
	Once          float64 `json:"once"`
	Twice         float64 `json:"twice"`
	More          float64 `json:"more"`
	Outside       float64 `json:"outside"`       // ground worked outside the boundary or inside an obstacle, counted once
	Swath         float64 `json:"swath"`         // Σ depth × area, from the passes' own outlines
	Residual      float64 `json:"residual"`      // m², field − (missed + unknown + once + twice + more)
	SwathResidual float64 `json:"swathResidual"` // m², swath − Σ depth × area over the arrangement
}

// Cause is the likely reason of a missed strip.
type Cause string

const (
	CauseDrift    Cause = "drift between passes"
	CauseLift     Cause = "lifted early or lowered late"
	CauseCorner   Cause = "corner"
	CauseObstacle Cause = "obstacle"
	CauseEdge     Cause = "boundary edge"
	CausePoint    Cause = "point row"
	CauseUndriven Cause = "not driven"              // wide enough for a whole pass
	CausePlanned  Cause = "planned pass not driven" // given by a plan, see NamePlanned
	CauseGap      Cause = "log gap"                 // it may have been worked while nothing was logged; see doubtGaps
)

// Strip is one connected piece of missed ground.
type Strip struct {
	Number    int           `json:"number"`    // 1 = largest
	Area      float64       `json:"area"`      // m²
	Length    float64       `json:"length"`    // m, along its long axis
	MeanWidth float64       `json:"meanWidth"` // m, area / length
	MaxWidth  float64       `json:"maxWidth"`  // m, diameter of the largest inscribed circle
	Bearing   geo.Bearing   `json:"bearing"`   // of the long axis, true north, 0 to 180
	At        orb.Point     `json:"at"`        // lon, lat of the centre of the largest inscribed circle
	Passes    []int         `json:"passes"`    // numbers of the neighbouring passes, ascending
	Approach  Approach      `json:"approach,omitzero"`
	Cause     Cause         `json:"cause"`
	Planned   []string      `json:"planned,omitempty"` // planned passes that were not driven here; see NamePlanned
	Headland  bool          `json:"headland"`          // the larger part lies in the headland
	Surety    Surety        `json:"surety,omitempty"`
	Certain   float64       `json:"certain,omitempty"` // m² that stay missed at credited width + pass-to-pass error, slivers left out
	Likely    float64       `json:"likely,omitempty"`  // m² that stay missed at credited width + half of that error, Certain included
	Shape     plane.Polygon `json:"-"`
}

// Pass is a run of work between lowering and lifting.
type Pass struct {
	Number int        `json:"number"` // 1, 2, 3 ... in the order driven
	Track  int        `json:"track"`  // index of the track
	From   time.Time  `json:"from,omitzero"`
	To     time.Time  `json:"to,omitzero"`
	Length float64    `json:"length"`         // m
	Area   float64    `json:"area"`           // m² of swath at credited width
	Line   []plane.XY `json:"-"`              // bar centre
	Gaps   int        `json:"gaps,omitempty"` // log gaps inside the pass
}

// HeadlandLoss is what the headland cost, in m².
type HeadlandLoss struct {
	Depth  float64 `json:"depth"`  // m
	Area   float64 `json:"area"`   // m² of headland in the field
	Missed float64 `json:"missed"` // missed ground in the headland
	Lifted float64 `json:"lifted"` // missed ground that was driven over with the tool lifted (part of Missed)
	Twice  float64 `json:"twice"`  // ground in the headland worked twice or more
}

// Result is what became of one operation on one field.
type Result struct {
	Field       geo.Field
	Local       geo.Local
	Work        Work
	Bar         Bar          // the working width all of this stands on
	Balance     Balance      // at credited width
	Effort      Effort       // way, time, speed and capacity
	Spacing     Spacing      // of neighbouring passes
	Zones       Zones        // where missed and double-worked ground lies
	FullMissed  float64      // m² missed at full working width: certainly untouched
	Headland    HeadlandLoss // zero Depth: not asked for
	Strips      []Strip      // all missed strips neither narrower than the sliver limit nor only possible, largest first
	Slivers     int          // missed pieces too narrow to list ...
	SliverArea  float64      // ... and their area, m², part of Balance.Missed
	Noise       Noise        // what the receiver's pass-to-pass error leaves open
	Passes      []Pass
	Crab        *Crab        // nil: none given, and not to be measured
	Fixes, Used int          // fixes read; fixes that became part of a pass
	Turns       []Turn       // between passes, as the log shows them
	Doubt       *Doubt       // what inferred work leaves open; nil: nothing, or the work state is logged
	Log         []Stretch    `json:"-"` // what the set did on every step of the tracks, in order
	LiftedLines [][]plane.XY // where the set went with the tool lifted
	Layers      Layers
	Findings    []geo.Finding
	Crossings   int

	lean lean // of doubtful stretches
}

// Layers are the polygons of the map.
type Layers struct {
	Field, Missed, Double, Triple, Outside, Unknown, Headland []plane.Polygon
}
