package plan

import (
	"crypto/sha256"
	"encoding/binary"
	"math"

	"balk/coverage/turn"
	"balk/geo/plane"
)

// known is what was found out about ways on a field. The plans that are laid out for one set share most of their rounds, and the ways into and between them, to
// the last bit: of a hundred ways asked for some eighty were asked for before. What is known is forgotten where it gets too much, and then found out again: it changes no
// plan. The same set made slimmer (slimBy) shares it, since its sizes are part of what is asked.
type known struct {
	ways  answered[[sha256.Size]byte, bool] // whether they can be driven
	words answered[wordAsked, wordFound]
	runs  answered[runAsked, Move]
	turns answered[turnAsked, turnFound]
	inner answered[turnAsked, wordFound] // the first turn inside a block that fits
	lacks answered[standAsked, float64]  // m, of the room that the set needs where it stands
	out   answered[standAsked, bool]     // whether the set surely has no room where it stands
}

// answered are answers to what was asked, no more than most.
type answered[K comparable, V any] struct {
	of   map[K]V
	most int

	found int // answers found out so far
}

// get is the answer, found out where it is not known. An error is none to keep.
func (f *answered[K, V]) get(asked K, find func() (V, error)) (V, error) {
	if v, is := f.of[asked]; is {
		return v, nil
	}
	v, err := find()
	if err != nil {
		return v, err
	}
	f.found++
	if len(f.of) >= f.most {
		clear(f.of)
	}
	f.of[asked] = v
	return v, nil
}

// No more of each is kept, so that a field of any size takes some ten megabytes for it.
const (
	mostWays       = 1 << 17
	mostWordsKnown = 1 << 15
	mostRuns       = 1 << 12
	mostTurns      = 1 << 12
)

func newKnown() *known {
	return &known{
		answered[[sha256.Size]byte, bool]{of: map[[sha256.Size]byte]bool{}, most: mostWays},
		answered[wordAsked, wordFound]{of: map[wordAsked]wordFound{}, most: mostWordsKnown},
		answered[runAsked, Move]{of: map[runAsked]Move{}, most: mostRuns},
		answered[turnAsked, turnFound]{of: map[turnAsked]turnFound{}, most: mostTurns},
		answered[turnAsked, wordFound]{of: map[turnAsked]wordFound{}, most: mostTurns},
		answered[standAsked, float64]{of: map[standAsked]float64{}, most: mostRuns},
		answered[standAsked, bool]{of: map[standAsked]bool{}, most: mostWordsKnown},
	}
}

// sizes are what slimBy changes of a set.
type sizes struct{ margin, body, tractor float64 }

func (t *turner) sizes() sizes {
	return sizes{t.im.Turning.Margin, t.im.Body.Width, t.im.Tractor.Width}
}

// wordAsked is what the first word from pose to pose depends on, beside the set and the field.
type wordAsked struct {
	sizes
	from, to  turn.Pose
	reversing bool
	rounded   bool
}

type wordFound struct {
	tried
	ok bool
}

// runAsked is what a run inside a part depends on, beside the set and the field.
type runAsked struct {
	part     int
	from, to end
}

// standAsked is what the room of a set that stands at a pose depends on, beside the set and the field.
type standAsked struct {
	sizes
	at turn.Pose
}

// turnAsked is what the turn from pose to pose depends on, beside the set and the field.
type turnAsked struct {
	sizes
	from, to turn.Pose
	inBlock  bool
}

type turnFound struct {
	move  Move
	serve bool // there is one at all
}

// drives says whether the set can drive a path.
func (t *turner) drives(p turn.Path) (bool, error) {
	known := t.known
	return known.ways.get(t.keyOf(p), func() (bool, error) {
		if len(known.ways.of) >= known.ways.most { // ways are about to be forgotten, and so are turns: what is asked for again is counted again
			clear(known.turns.of)
			clear(known.inner.of)
		}
		return t.drive(p)
	})
}

// keyOf stands for a path and the sizes of the set: no two of them have the same.
func (t *turner) keyOf(p turn.Path) [sha256.Size]byte {
	var room [256]byte
	k := key{room[:0]}
	s := t.sizes()
	k.put(s.margin, s.body, s.tractor, p.From.At.X, p.From.At.Y, float64(p.From.Heading))
	for _, a := range p.Pieces {
		k.put(a.Length, a.From, a.To)
	}
	return k.sum()
}

// key is numbers that together stand for something.
type key struct{ bytes []byte }

func (k *key) put(all ...float64) {
	for _, v := range all {
		k.bytes = binary.LittleEndian.AppendUint64(k.bytes, math.Float64bits(v))
	}
}

// line puts the corners of a line, and how many.
func (k *key) line(line []plane.XY) {
	k.put(float64(len(line)))
	for _, p := range line {
		k.put(p.X, p.Y)
	}
}

func (k *key) sum() [sha256.Size]byte { return sha256.Sum256(k.bytes) }
