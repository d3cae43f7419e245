package plan

import (
	"cmp"
	"math"
	"slices"
)

// improved is what reversing and moving runs of rows saves, s. rows are 0 … n−1 in some order.
func improved(rows []int, cost []float64) float64 {
	saved := 0.0
	o := orderOf(rows, cost)
	for {
		gain := o.reversals()
		gain += o.moved()
		saved += gain
		if gain <= leastGain {
			return saved
		}
	}
}

// ordered is an order of rows that is being improved. A change takes two turns for two or three others, each of which takes the least of all costs at
// least. So the first of the others takes less than the two do beyond that, and only rows that lie as far away as such a turn goes
// come into question: a few, where nearly all turns are quick. Turns that are not (over) are looked at one by one.
type ordered struct {
	rows  []int
	cost  []float64
	least float64   // s, of all costs
	steps []float64 // s, of the turn after each row but the last
	place []int     // of each row
	near  []int     // numbers of rows over which turns go, the quickest first
	high  float64   // s, what a turn takes that is not quick
	over  []int     // places after which turns take more
}

func orderOf(rows []int, cost []float64) *ordered {
	o := &ordered{rows: rows, cost: cost, least: math.Inf(1), steps: make([]float64, max(0, len(rows)-1)), place: make([]int, len(rows))}
	for k := 1; k < len(rows); k++ {
		o.near = append(o.near, k)
	}
	slices.SortStableFunc(o.near, func(a, b int) int { return cmp.Compare(cost[a], cost[b]) })
	if len(o.near) > 0 {
		o.least = cost[o.near[0]]
	}
	o.step(0, len(rows))
	return o
}

// step notes places from .. to−1 anew, and the turns between them.
func (o *ordered) step(from, to int) {
	for k := max(0, from); k < min(to, len(o.rows)); k++ {
		o.place[o.rows[k]] = k
		if k < len(o.steps) {
			o.steps[k] = o.cost[apart(o.rows[k], o.rows[k+1])]
		}
	}
	sum := 0.0
	for _, s := range o.steps {
		sum += s
	}
	o.high = 2*sum/float64(max(1, len(o.steps))) - o.least
	o.over = o.over[:0]
	for k, s := range o.steps {
		if s > o.high {
			o.over = append(o.over, k)
		}
	}
}

func (o *ordered) turn(i, k int) float64 { return turnBetween(o.rows, i, k, o.cost) }

// few says whether turns below a limit go over so few numbers of rows that looking for their rows takes less than looking at all.
func (o *ordered) few(limit float64) bool {
	n := len(o.near) / 8
	return n > 0 && o.cost[o.near[n]] >= limit
}

// mostReversals bounds 2-opt: rounds over all pairs. Each gains something; what is left after
// so many is below what an estimate of turns is good for.
const mostReversals = 20

// reversals turns runs of rows round as long as that saves time, and says how much
// it saved.
func (o *ordered) reversals() float64 {
	n, saved := len(o.rows), 0.0
	for range mostReversals {
		gained := false
		turn := func(i, k int, gain float64) {
			slices.Reverse(o.rows[i : k+1])
			o.step(i-1, k+1)
			saved, gained = saved+gain, true
		}
		for i := range n {
			for k := i + 1; k < n-1; k++ {
				var gain float64
				if k, gain = o.reversal(i, k); gain == 0 {
					break
				}
				turn(i, k, gain)
			}
			if k := n - 1; k > i {
				if gain := o.turn(i-1, i) - o.turn(i-1, k); gain > leastGain {
					turn(i, k, gain)
				}
			}
		}
		if !gained {
			break
		}
	}
	return saved
}

// reversal is the first place from k on, before the last, up to which turning the rows from place i on round saves time, and how much, s; 0: there is none.
func (o *ordered) reversal(i, k int) (int, float64) {
	rows, cost, last := o.rows, o.cost, len(o.rows)-1
	before := o.turn(i-1, i)
	if i == 0 {
		for ; k < last; k++ {
			if gain := o.steps[k] - cost[apart(rows[0], rows[k+1])]; gain > leastGain {
				return k, gain
			}
		}
		return 0, 0
	}
	best, most := last, 0.0
	look := func(k int) {
		gain := before + o.steps[k] - cost[apart(rows[i-1], rows[k])] - cost[apart(rows[i], rows[k+1])]
		if gain > leastGain {
			best, most = k, gain
		}
	}
	limit := before + o.high - o.least
	if !o.few(limit) {
		for ; k < last && best == last; k++ {
			if o.steps[k] > 2*o.least-before {
				look(k)
			}
		}
		return best, most
	}
	for _, d := range o.near {
		if cost[d] >= limit {
			break
		}
		for _, row := range [2]int{rows[i-1] - d, rows[i-1] + d} {
			if row < 0 || row > last {
				continue
			}
			if at := o.place[row]; at >= k && at < best {
				look(at)
			}
		}
	}
	for _, at := range o.over {
		if at >= best {
			break
		}
		if at >= k {
			look(at)
		}
	}
	return best, most
}

// moved takes runs of up to three rows elsewhere as long as that saves time (Or 1976,
// from memory), and says how much.
func (o *ordered) moved() float64 {
	rows, saved := o.rows, 0.0
	for long := 1; long <= 3; long++ {
		for i := 0; i+long <= len(rows); i++ {
			to, gain := o.betterPlace(i, i+long)
			if gain <= leastGain {
				continue
			}
			if to > i {
				to -= long
			}
			rest := slices.Delete(slices.Clone(rows), i, i+long)
			copy(rows, slices.Insert(rest, to, slices.Clone(rows[i:i+long])...))
			o.step(0, len(rows))
			saved += gain
		}
	}
	return saved
}

// betterPlace is the first place before which rows from..to−1 are worked in less time than where they are, and how much less, s;
// 0: there is none.
func (o *ordered) betterPlace(from, to int) (before int, gain float64) {
	rows, cost, last := o.rows, o.cost, len(o.rows)-1
	out := o.turn(from-1, from) + o.turn(to-1, to) - o.turn(from-1, to)
	head, tail := rows[from], rows[to-1]
	if gain := out - o.turn(to-1, 0); from > 0 && gain > leastGain {
		return 0, gain
	}
	best, most := last, 0.0
	look := func(k int) { // between places k and k+1
		in := -o.steps[k] + cost[apart(rows[k], head)] + cost[apart(tail, rows[k+1])]
		if gain := out - in; gain > leastGain {
			best, most = k, gain
		}
	}
	if limit := out + o.high - o.least; o.few(limit) {
		for _, d := range o.near {
			if cost[d] >= limit {
				break
			}
			for _, row := range [2]int{head - d, head + d} {
				if row < 0 || row > last {
					continue
				}
				if at := o.place[row]; at < best && (at < from-1 || at >= to) {
					look(at)
				}
			}
		}
		for _, at := range o.over {
			if at >= best {
				break
			}
			if at < from-1 || at >= to {
				look(at)
			}
		}
	} else {
		for k := 0; k < last && best == last; k++ {
			if (k < from-1 || k >= to) && o.steps[k] > 2*o.least-out {
				look(k)
			}
		}
	}
	if best < last {
		return best + 1, most
	}
	if gain := out - o.turn(last, from); to <= last && gain > leastGain {
		return last + 1, gain
	}
	return 0, 0
}
