package coverage

import (
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/coverage/pattern"
	"balk/coverage/slope"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Cause is the likely reason of a missed strip.
type Cause string

const (
	CauseDrift    Cause = "drift between passes"
	CauseLift     Cause = "lifted early or lowered late"
	CauseCorner   Cause = "corner"
	CauseObstacle Cause = "obstacle"
	CauseEdge     Cause = "boundary edge"
	CausePoint    Cause = "point row"
	CausePart     Cause = "part of the bar lifted"  // by the logged width
	CauseUndriven Cause = "not driven"              // wide enough for a whole pass
	CausePlanned  Cause = "planned pass not driven" // given by a plan, see NamePlanned
	CauseGap      Cause = "log gap"                 // it may have been worked while nothing was logged; see doubtGaps
)

// Strip is one piece of missed ground that hangs together by more than a neck (see cutter).
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
	Lies      *Lies         `json:"lies,omitempty"`    // nil: heights are not logged, or do not tell
	Shape     plane.Polygon `json:"-"`
}

// Result is what became of one operation on one field.
type Result struct {
	Field       geo.Field
	Local       geo.Local
	Work        drive.Work
	Bar         drive.Bar           // the working width all of this stands on
	Balance     ground.Balance      // at credited width
	Effort      Effort              // way, time, speed and capacity
	Spacing     Spacing             // of neighbouring passes
	Open        Open                // what the log cannot tell, or tells otherwise than the set's description
	Telling     Telling             // what the log can tell of missed strips
	Patches     *Patches            // what was missed in patches that the call names; nil = none named
	Worth       *Worth              // what working strips again wins; nil = not asked for; see rework
	Zones       ground.Zones        // where missed and double-worked ground lies
	FullMissed  float64             // m² missed at full working width: certainly untouched
	Ribbons     *Ribbons            // what the sweeps left between them; nil = their layout is not known
	Bars        *Bars               // how its bars fared beside each other, of which the first is the one all else is told of; nil = it has one; see BarsOf
	Trodden     float64             // m² on which tyres of the set ran after they were cut; 0 also where none are known
	Slope       *Slope              // how the ground lies; nil = heights are not logged, or do not tell
	Surface     *slope.Surface      `json:"-"` // by those heights
	Headland    ground.HeadlandLoss // zero Depth: not asked for
	Strips      []Strip             // all missed strips neither narrower than the sliver limit nor only possible, largest first
	Patterns    []pattern.Pattern   // what strips have in common, that with most ground first
	Slivers     int                 // missed pieces too narrow to list ...
	SliverArea  float64             // ... and their area, m², part of Balance.Missed
	Noise       Noise               // what the receiver's pass-to-pass error leaves open
	Passes      []drive.Pass
	Crab        *drive.Crab     // nil: none given, and not to be measured
	Fixes, Used int             // fixes read; fixes that became part of a pass
	Turns       []drive.Turn    // between passes, as the log shows them
	Doubt       *Doubt          // what inferred work leaves open; nil: nothing, or the work state is logged
	Log         []drive.Stretch `json:"-"` // what the set did on every step of the tracks, in order
	LiftedLines [][]plane.XY    // where the set went with the tool lifted
	Layers      ground.Layers
	Findings    []geo.Finding
	Crossings   int
}
