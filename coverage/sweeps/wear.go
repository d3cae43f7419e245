package sweeps

// Cutting is how far each sweep of f went in the ground on a run of places, m, by its number less one. In a curve the outer ones go farther:
// a place runs |p − C| where the bar's middle runs R, which is 1 − κ·across (see Motion). Sweeps beyond what is down do not count.
func (f Frame) Cutting(places []Place, motions []Motion) []float64 {
	cut := make([]float64, len(f))
	for k, p := range places[:max(0, len(places)-1)] {
		if !p.Goes {
			continue
		}
		way, m := places[k+1].S-p.S, motions[k]
		for _, b := range f {
			if y := m.across(b.Nose); p.Right <= y && y <= p.Left {
				cut[b.Number-1] += way * (1 - m.Curvature*y)
			}
		}
	}
	return cut
}
