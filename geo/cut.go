package geo

// Cut keeps the fixes for which keep says so, with all their columns. Where fixes
// between two kept ones go, the track gets a break if apart is true; its own
// breaks stay. Parts that lose all fixes vanish. A track of which nothing goes is
// handed back as it is.
func (t Track) Cut(keep func(k int) bool, apart bool) Track {
	var kept []int
	for k := range t.Fixes() {
		if keep(k) {
			kept = append(kept, k)
		}
	}
	if len(kept) == t.Fixes() {
		return t
	}
	part := t.fixes().byPart()
	out := t.pick(kept, func(i int) bool {
		return part[kept[i]] != part[kept[i-1]] || apart && kept[i-1] != kept[i]-1
	})
	out.Counted = nil // the machine counted over the whole track
	return out
}
