package sweeps

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// Blade is one sweep on the frame: its nose and the tips of its wings, seen from the middle of the bar, x ahead and y to the left, m.
//
//	     nose
//	     ╱╲
//	left    right
type Blade struct {
	Number            int // of the sweep, from the left end, from 1
	Nose, Left, Right plane.XY
}

// Frame is a set of sweeps that moves as one, from the left end to the right.
type Frame []Blade

// Of is the frame of a layout that Validate takes, its sweeps new, or worn where the layout says how wide they are then.
func Of(l rig.Layout, worn bool) Frame {
	all := l.All()
	slices.SortStableFunc(all, func(a, b rig.Sweep) int { return cmp.Compare(a.Right, b.Right) })
	f := make(Frame, len(all))
	for i, s := range all {
		width := s.Width
		if worn && s.Worn > 0 {
			width = s.Worn
		}
		back := 0.0 // the tips lie behind the nose by so much
		if s.Angle > 0 {
			back = width / 2 / math.Tan(s.Angle/2*math.Pi/180)
		}
		nose := plane.XY{X: -s.Behind, Y: -s.Right}
		f[i] = Blade{i + 1, nose, nose.Add(plane.XY{X: -back, Y: width / 2}), nose.Add(plane.XY{X: -back, Y: -width / 2})}
	}
	return f
}

// Moved is the frame shifted by d.
func (f Frame) Moved(d plane.XY) Frame {
	g := slices.Clone(f)
	for i, b := range g {
		g[i] = b.moved(d)
	}
	return g
}

func (b Blade) moved(d plane.XY) Blade {
	return Blade{b.Number, b.Nose.Add(d), b.Left.Add(d), b.Right.Add(d)}
}

// Without is the frame that has lost blade i, from 0.
func (f Frame) Without(i int) Frame { return slices.Delete(slices.Clone(f), i, i+1) }

// Bent is the frame with the leg of blade i, from 0, bent to the left by so much, m; below 0 to the right.
func (f Frame) Bent(i int, left float64) Frame {
	g := slices.Clone(f)
	g[i] = g[i].moved(plane.XY{Y: left})
	return g
}

// Wider is the frame with every sweep wider by so much, m; the angle between its wings stays.
func (f Frame) Wider(by float64) Frame {
	g := slices.Clone(f)
	for i, b := range g {
		grow := 1.0
		if w := b.Width(); w > 0 {
			grow = (w + by) / w
		}
		g[i].Left = b.Nose.Add(b.Left.Sub(b.Nose).Scale(grow))
		g[i].Right = b.Nose.Add(b.Right.Sub(b.Nose).Scale(grow))
	}
	return g
}

// Width is the cutting width of b, straight ahead, m.
func (b Blade) Width() float64 { return b.Left.Y - b.Right.Y }

// Span is how far the frame cuts to the right and to the left of its middle, straight ahead, m, right below 0.
func (f Frame) Span() (right, left float64) {
	right, left = math.Inf(1), math.Inf(-1)
	for _, b := range f {
		right, left = min(right, b.Right.Y), max(left, b.Left.Y)
	}
	return right, left
}

// Ends are how far before a line the middle of the bar must be when the frame is lowered, and how far past one when it is lifted, so that all
// sweeps cut between: where its first nose stands ahead of that middle, and its last tip behind, m; below 0 on the other side.
func (f Frame) Ends() (before, past float64) {
	before, past = math.Inf(-1), math.Inf(-1)
	for _, b := range f {
		before, past = max(before, b.Nose.X), max(past, -b.Left.X, -b.Right.X)
	}
	return before, past
}

// Deep is the length of the frame from its first nose to its last tip, m: where it is lowered or lifted as it drives, so much of the
// way is cut by a part of the sweeps only.
func (f Frame) Deep() float64 {
	before, past := f.Ends()
	return before + past
}
