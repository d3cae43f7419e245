package plane

import "context"

// Lanes is how many kinds of outline are counted apart in one arrangement.
const Lanes = 4

// Outline is a closed line that adds one to the count of its lane at every
// point it winds round once counter-clockwise, and takes one off for clockwise.
// It may cross itself, touch itself and repeat points; the last point joins
// the first.
type Outline struct {
	Line []XY
	Lane int // 0 to Lanes-1
}

// Label says how often a place is covered, lane by lane.
type Label uint64

// Class is what a Label means to the caller: 0 to 15. The unbounded outside,
// where all counts are zero, must be class 0.
type Class uint8

// ClassSet is a set of classes, one bit each: 1<<class.
type ClassSet uint16

// Question says what is wanted of an arrangement.
type Question struct {
	// Classify sorts places into classes. It is called from several goroutines
	// and must be pure; Classify of all-zero counts must be 0.
	Classify func(Label) Class
	// Layers are the sets of classes whose polygons are wanted. None: areas only.
	Layers []ClassSet
	// Workers is how many goroutines may run; 0 = one per processor. The answer
	// does not depend on it.
	Workers int
	// Sliver: rings with 2·area/perimeter below it (metres) are left out of the
	// layers and summed in Dropped. 0 = 0.2 mm. It does not touch Area.
	Sliver float64
}

// Answer is what an arrangement found.
type Answer struct {
	Area      [16]float64    // m² by class; class 0 (the unbounded outside) is 0 or what Classify put there
	Outlines  [Lanes]float64 // m² summed over the outlines of each lane, by shoelace
	Layers    [][]Polygon    // one list per set of Question.Layers, valid, closed, outer rings counter-clockwise
	Dropped   []float64      // m² of slivers left out, per layer
	Crossings int            // how many crossings the outlines have
}

// Arrange lays all outlines over each other and answers q.
var _ context.Context
