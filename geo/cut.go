package geo

// Cut keeps the fixes for which keep says so, with all their columns. Where fixes
// between two kept ones go, the track gets a break if apart is true; its own
// breaks stay. Parts that lose all fixes vanish. A track of which nothing goes is
// handed back as it is.
func (t Track) Cut(keep func(k int) bool, apart bool) Track {
	n := t.Fixes()
	first := 0 // that goes
	for first < n && keep(first) {
		first++
	}
	if first == n {
		return t
	}
	kept := upTo(0, first)
	for k := first + 1; k < n; k++ {
		if keep(k) {
			kept = append(kept, k)
		}
	}
	part := t.fixes().byPart()
	out := t.pick(kept, func(i int) bool {
		return part[kept[i]] != part[kept[i-1]] || apart && kept[i-1] != kept[i]-1
	})
	out.Counted = nil // the machine counted over the whole track
	return out
}
