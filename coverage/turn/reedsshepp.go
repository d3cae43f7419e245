package turn

import "math"

// families solves the words of Reeds & Shepp 1990 (Pacific J. Math. 145(2), 367-393), section 8, that begin forward to the
// left; the others of the 48 are their images.
//
//	image            goal (x, y, φ) becomes                     word
//	gears swapped    −x, y, −φ                                  all pieces in the other gear
//	mirrored         x, −y, −φ                                  left and right swapped
//	driven back      x cos φ + y sin φ, x sin φ − y cos φ, φ    pieces in the opposite order
//
// The equations are derived anew: with v the way between the centres of the first and the
// last circle and e^{it} the heading after the first piece t, a circle's centre moves on by ∓2i·e^{iθ}
// where the steering changes sides, and the straight by u·e^{iθ}.
type families struct {
	l, r    way // from the start's left circle to the goal's left and right circle
	phi     float64
	swapped bool // image of the words: gears swapped
	mirror  bool
	back    bool
	limit   *float64
	f       func(word)
}

// longer tells that pieces of the given length alone make a word too long.
func (w *families) longer(pieces float64) bool { return pieces >= *w.limit }

// reversingWords calls f with all words of Reeds & Shepp that lead to g and are
// shorter than limit, which f may lower as it goes; some longer ones too.
func reversingWords(g goal, limit *float64, f func(word)) {
	sin, cos := math.Sincos(g.phi)
	back := goal{g.x*cos + g.y*sin, g.x*sin - g.y*cos, g.phi}
	for i, seen := range [2]goal{g, back} {
		for _, mirror := range [2]bool{false, true} {
			if mirror {
				seen = seen.mirrored()
			}
			l, r := seen.centres()
			for _, swapped := range [2]bool{false, true} {
				w := families{l: l, r: r, phi: seen.phi, swapped: swapped, mirror: mirror, back: i == 1, limit: limit, f: f}
				if swapped { // x and φ change sign: so does the x of both ways
					w.l.arg, w.r.arg, w.phi = math.Pi-l.arg, math.Pi-r.arg, -seen.phi
				}
				if i == 0 { // these are their own images driven back
					w.lsl()
					w.lsr()
					w.lrl(1)
					w.fourArcs()
					w.fourArcsShunted()
					w.fivePieces()
				}
				w.lrl(-1)
				w.quarterSameSide()
				w.quarterOtherSide()
			}
		}
	}
}

// tell hands on an image of the word with the given steering.
func (w *families) tell(n int, steer, drive [5]float64) {
	var out word
	out.n = n
	for i := range n {
		p := piece{steer[i], drive[i]}
		if w.swapped {
			p.drive = -p.drive
		}
		if w.mirror {
			p.steer = -p.steer
		}
		if w.back {
			out.pieces[n-1-i] = p
		} else {
			out.pieces[i] = p
		}
	}
	w.f(out)
}

// half brings an angle to 0 ≤ a ≤ π; false where it is none of these. Arcs above
// a half turn are shorter driven the other way.
func half(a, u float64) (float64, bool) {
	a = arc(a, u)
	if a > math.Pi {
		return math.Pi, a <= math.Pi+rounding+wholeTurn/(1+u)
	}
	return a, true
}

// ends brings the first and last arc of a word to 0 … π.
func ends(t, v, u float64) (float64, float64, bool) {
	t, okT := half(t, u)
	v, okV := half(v, u)
	return t, v, okT && okV
}

// lsl, L+S+L+ (8.1): v = u·e^{it}.
func (w *families) lsl() {
	u, t := w.l.length, w.l.arg
	if w.longer(u) {
		return
	}
	if u < touching {
		u, t = 0, w.phi // the same circle: all of the turn in one arc
	}
	if t, v, ok := ends(t, w.phi-t, u); ok {
		w.tell(3, [5]float64{1, 0, 1}, [5]float64{t, u, v})
	}
}

// lsr, L+S+R+ (8.2): v = (u − 2i)·e^{it}.
func (w *families) lsr() {
	u, ok := tangent(w.r.length)
	if !ok || w.longer(u) {
		return
	}
	t := w.r.arg + math.Atan2(2, u)
	if t, v, ok := ends(t, t-w.phi, u); ok {
		w.tell(3, [5]float64{1, 0, -1}, [5]float64{t, u, v})
	}
}

// lrl, L+R−L+ (8.3): v = 4 sin(u/2)·e^{i(t + u/2 − π)}, u being the length of the middle arc. The gear of the last arc is −1
// in L+R−L− (8.4).
func (w *families) lrl(gear float64) {
	half := w.l.length / 4
	if half > 1+touching {
		return
	}
	u := 2 * math.Asin(math.Min(1, half))
	if w.longer(u) {
		return
	}
	t := w.l.arg - u/2 + math.Pi
	v := w.phi - t - u
	if gear < 0 {
		v = t + u - w.phi
	}
	if t, v, ok := ends(t, v, 0); ok {
		w.tell(3, [5]float64{1, -1, 1}, [5]float64{t, -u, gear * v})
	}
}

// fourArcs, L+R+L−R− (8.7), both middle arcs u: v = −2i·e^{i(t − u)}·(2 cos u − 1).
func (w *families) fourArcs() {
	c := (2 + w.r.length) / 4
	if c > 1+touching {
		return
	}
	u := math.Acos(math.Min(1, c))
	if w.longer(2 * u) {
		return
	}
	t := w.r.arg + math.Pi/2 + u
	if t, v, ok := ends(t, w.phi-t+2*u, 0); ok {
		w.tell(4, [5]float64{1, -1, 1, -1}, [5]float64{t, u, -u, -v})
	}
}

// fourArcsShunted, L+R−L−R+ (8.8), both middle arcs u: v = −2i·e^{it}·(2 − e^{iu}).
func (w *families) fourArcsShunted() {
	c := (20 - w.r.length*w.r.length) / 16
	if c > 1+touching || c < 0 {
		return
	}
	u := math.Acos(math.Min(1, c))
	if w.longer(2 * u) {
		return
	}
	sin, cos := math.Sincos(u)
	t := w.r.arg + math.Pi/2 + math.Atan2(sin, 2-cos)
	if t, v, ok := ends(t, t-w.phi, 0); ok {
		w.tell(4, [5]float64{1, -1, 1, -1}, [5]float64{t, -u, -u, v})
	}
}

// quarterOtherSide, L+ R−(π/2) S− L− (8.9): v = (−2 − i(u + 2))·e^{it}.
func (w *families) quarterOtherSide() {
	u, ok := tangent(w.l.length)
	if u -= 2; !ok || u < 0 || w.longer(u+math.Pi/2) {
		return
	}
	t := w.l.arg - math.Atan2(-u-2, -2)
	if t, v, ok := ends(t, t+math.Pi/2-w.phi, u); ok {
		w.tell(4, [5]float64{1, -1, 0, 1}, [5]float64{t, -math.Pi / 2, -u, -v})
	}
}

// quarterSameSide, L+ R−(π/2) S− R− (8.10): v = −i(u + 2)·e^{it}.
func (w *families) quarterSameSide() {
	u := w.r.length - 2
	if u < 0 || w.longer(u+math.Pi/2) {
		return
	}
	t := w.r.arg + math.Pi/2
	if t, v, ok := ends(t, w.phi-t-math.Pi/2, u); ok {
		w.tell(4, [5]float64{1, -1, 0, -1}, [5]float64{t, -math.Pi / 2, -u, -v})
	}
}

// fivePieces, L+ R−(π/2) S− L−(π/2) R+ (8.11): v = (−2 − i(u + 4))·e^{it}.
func (w *families) fivePieces() {
	u, ok := tangent(w.r.length)
	if u -= 4; !ok || u < 0 || w.longer(u+math.Pi) {
		return
	}
	t := w.r.arg - math.Atan2(-u-4, -2)
	if t, v, ok := ends(t, t-w.phi, u); ok {
		w.tell(5, [5]float64{1, -1, 0, 1, -1}, [5]float64{t, -math.Pi / 2, -u, -math.Pi / 2, v})
	}
}
