package drive

import (
	"time"

	"balk/geo/plane"
)

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
