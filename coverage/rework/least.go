package rework

import (
	"math"
	"sync/atomic"
)

// least is the least number told so far, by several workers at once; at first +Inf.
type least struct{ bits atomic.Uint64 }

func newLeast() *least {
	l := new(least)
	l.bits.Store(math.Float64bits(math.Inf(1)))
	return l
}

func (l *least) get() float64 { return math.Float64frombits(l.bits.Load()) }

func (l *least) lower(to float64) {
	for {
		now := l.bits.Load()
		if math.Float64frombits(now) <= to || l.bits.CompareAndSwap(now, math.Float64bits(to)) {
			return
		}
	}
}
