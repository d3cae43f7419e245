package geo

import (
	"fmt"
	"time"

	"github.com/paulmach/orb"
)

// SpotCheck is what was seen on one's knees at a place: a strip brushed free across the bar, with what the tool left
// standing in it. The zero value of a field means that it was not looked at, unless its comment says otherwise.
type SpotCheck struct {
	File      string       `json:"file,omitempty"`
	Record    int          `json:"record,omitempty"` // feature, waypoint or line, from 1
	ID        string       `json:"id,omitempty"`     // of the place; the same at each visit
	At        *orb.Point   `json:"at,omitempty"`     // lon, lat
	Accuracy  float64      `json:"accuracy,omitempty"`
	Time      time.Time    `json:"time,omitzero"`
	Why       SpotReason   `json:"why,omitempty"`
	Operation string       `json:"operation,omitempty"`
	Pass      int          `json:"pass,omitempty"`
	Section   int          `json:"section,omitempty"` // of the bar, from its left end, from 1
	Strip     int          `json:"strip,omitempty"`   // number of the missed strip it was to look at
	From      float64      `json:"from,omitempty"`    // m from the bar's left end to where the strip that was brushed free begins
	Length    float64      `json:"length,omitempty"`  // m of it across the bar; 0: nothing was brushed free
	Width     float64      `json:"width,omitempty"`   // m of it along the travel
	Cut       Yes          `json:"cut,omitempty"`     // the strip is cut: no also where nothing of it is
	Ribs      []SpotValue  `json:"ribs,omitempty"`    // uncut: m from the bar's left end to its middle, and its width in m
	Depths    []SpotValue  `json:"depths,omitempty"`  // m from the bar's left end (below 0: spread over the strip), and m below the untouched surface
	Smeared   Yes          `json:"smeared,omitempty"`
	Burial    []SpotNamed  `json:"burial,omitempty"` // m, of seeds, stubble ...
	Seed      []SpotNamed  `json:"seed,omitempty"`   // m, depth of each component that was sown
	Plants    []SpotPlants `json:"plants,omitempty"`
	Looked    bool         `json:"looked,omitempty"` // plants were looked for, and those not named have gone
	Visit     int          `json:"visit,omitempty"`  // 1 = before, 2 ... after
	Untreated bool         `json:"untreated,omitempty"`
	Join      *SpotJoin    `json:"join,omitempty"`
	Note      string       `json:"note,omitempty"`
	Photo     string       `json:"photo,omitempty"` // name of its file
}

// Yes is an answer that may be missing.
type Yes string

const (
	NotSaid Yes = ""
	IsSo    Yes = "yes"
	NotSo   Yes = "no"
)

// SpotReason is why a place was chosen.
type SpotReason string

const (
	SpotByHand SpotReason = ""
	SpotDrawn  SpotReason = "drawn" // by chance, with a chance that is known: it counts for shares
	SpotStrip  SpotReason = "strip" // a missed strip that is not sure
	SpotGap    SpotReason = "gap"   // a hole in the log
)

// SpotValue is something at a place of the bar.
type SpotValue struct {
	At    float64 `json:"at"`    // m from the bar's left end; below 0: not told
	Value float64 `json:"value"` // m
}

// SpotNamed is a depth of something by its name.
type SpotNamed struct {
	What  string  `json:"what"`
	Depth float64 `json:"depth"` // m
}

// SpotPlants are plants of one kind, in the unit of its record: per m², or % of cover.
type SpotPlants struct {
	Kind   string  `json:"kind"`
	Amount float64 `json:"amount"`
	Cover  bool    `json:"cover,omitempty"` // % of the ground, not plants per m²
	Stage  int     `json:"stage"`           // BBCH growth stage; -1: not told
}

// SpotJoin is where two passes meet.
type SpotJoin struct {
	Left  bool    `json:"left"`            // seen from the pass of the record, travelling
	Lap   float64 `json:"lap"`             // m between the cut edges; below 0: a gap
	Same  bool    `json:"same,omitempty"`  // the other pass was driven in the same direction
	Other int     `json:"other,omitempty"` // its number
}

// Limits of a spot check; more are typing errors (common practice, no source).
const (
	mostSpotWidth = 100.0 // m
	mostSpotDepth = 1.0   // m
	mostSpotJoin  = 20.0  // m
	mostStage     = 99    // BBCH
)

// Brushed says whether it was looked at whether the ground is cut. Length alone may be where somebody was to look.
func (c SpotCheck) Brushed() bool { return c.Cut != NotSaid || len(c.Ribs) > 0 }

// Blank says whether nothing was seen, as on a sheet that was not filled in.
func (c SpotCheck) Blank() bool {
	return !c.Brushed() && len(c.Depths)+len(c.Burial)+len(c.Seed)+len(c.Plants) == 0 && !c.Looked && c.Smeared == NotSaid && c.Join == nil && c.Note == "" && c.Photo == ""
}

// Uncut says whether anything was left standing.
func (c SpotCheck) Uncut() bool { return c.Cut == NotSo || len(c.Ribs) > 0 }

// Validate says what of c cannot be: the first limit that is broken.
func (c SpotCheck) Validate() error {
	within := func(what string, v, least, most float64, unit string) error {
		if !(v >= least && v <= most) {
			return fmt.Errorf("%s %g %s: must be from %g to %g %s", what, v, unit, least, most, unit)
		}
		return nil
	}
	type limit struct {
		what        string
		v           float64
		least, most float64
	}
	limits := []limit{{"accuracy", c.Accuracy, 0, 1000}, {"from", c.From, 0, mostSpotWidth}, {"length", c.Length, 0, mostSpotWidth}, {"width", c.Width, 0, mostSpotWidth}}
	for _, r := range c.Ribs {
		limits = append(limits, limit{"place of a rib", r.At, 0, mostSpotWidth}, limit{"width of a rib", r.Value, 0, mostSpotWidth})
	}
	for _, d := range c.Depths {
		limits = append(limits, limit{"place of a depth", d.At, -1, mostSpotWidth})
		limits = append(limits, limit{"depth", d.Value, 0, mostSpotDepth})
	}
	for _, list := range [][]SpotNamed{c.Burial, c.Seed} {
		for _, n := range list {
			limits = append(limits, limit{"depth of " + n.What, n.Depth, 0, mostSpotDepth})
		}
	}
	if c.Join != nil {
		limits = append(limits, limit{"lap", c.Join.Lap, -mostSpotJoin, mostSpotJoin})
	}
	for _, l := range limits {
		if err := within(l.what, l.v, l.least, l.most, "m"); err != nil {
			return err
		}
	}
	for _, p := range c.Plants {
		most, unit := 1e6, "per m²"
		if p.Cover {
			most, unit = 100, "%"
		}
		if err := within("plants of "+p.Kind, p.Amount, 0, most, unit); err != nil {
			return err
		}
		if p.Stage < -1 || p.Stage > mostStage {
			return fmt.Errorf("growth stage %d of %s: must be from 0 to %d (BBCH)", p.Stage, p.Kind, mostStage)
		}
	}
	if c.Cut == IsSo && len(c.Ribs) > 0 {
		return fmt.Errorf("cut is yes, and %d ribs are named: one of them is wrong", len(c.Ribs))
	}
	if c.Length > 0 {
		sum := 0.0
		for _, r := range c.Ribs {
			sum += r.Value
			if half := r.Value / 2; r.At+half < c.From-ofRuler || r.At-half > c.From+c.Length+ofRuler {
				return fmt.Errorf("a rib at %g m from the bar's left end lies outside the strip brushed free, %g to %g m", r.At, c.From, c.From+c.Length)
			}
		}
		if sum > c.Length+ofRuler {
			return fmt.Errorf("ribs of %g m together: must be %g m at the most, the length brushed free", sum, c.Length)
		}
	}
	return nil
}

// ofRuler: places are read off a ruler to a centimetre.
const ofRuler = 0.01 // m
