package plane

// groups are disjoint sets of numbers, each named by one of its own: union-find with halved paths (Tarjan 1975, from memory).
type groups []int32

func newGroups(n int) groups {
	g := make(groups, n)
	for i := range g {
		g[i] = int32(i)
	}
	return g
}

// of is the name of the group of i.
func (g groups) of(i int32) int32 {
	for g[i] != i {
		g[i] = g[g[i]]
		i = g[i]
	}
	return i
}

// join makes the groups of i and k one, named by the lesser of both names.
func (g groups) join(i, k int32) {
	if i, k = g.of(i), g.of(k); i != k {
		g[max(i, k)] = min(i, k)
	}
}
