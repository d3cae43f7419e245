package drive

// Median reorders v, which must not be empty, and is its upper median.
func Median(v []float64) float64 { return Nth(v, len(v)/2) }

// Nth reorders v so that v[k] is what sorting would put there, with nothing
// greater before it and nothing smaller behind it.
func Nth(v []float64, k int) float64 {
	from, to := 0, len(v)-1
	for from < to {
		pivot, i, j := v[(from+to)/2], from, to
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			to = j
		case k >= i:
			from = i
		default:
			return v[k]
		}
	}
	return v[k]
}
