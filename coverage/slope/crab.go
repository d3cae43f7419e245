package slope

import (
	"math"

	"balk/coverage/chance"
	"balk/coverage/drive"
	"balk/geo/plane"
)

// Piece is a straight piece of work of which the logged headings tell the crab angle.
type Piece struct {
	Across float64 // m per m, rise of the ground to the left of the way
	Left   float64 // degrees, mean of heading − way
	Length float64 // m
	Line   int     // pieces of one pass err alike
}

const (
	pieceLength = 20.0 // m: 2 cm of noise at both ends are then 0.08°, and a slope is one
	pieceTurn   = 10.0 // degrees between any two headings of a piece that is straight
	// atRim: a plane has the rise of bowl-shaped ground in the middle of its heights; a piece farther from that stands on another slope.
	atRim = 5.0 // m
	// leastPieces, leastLines: of fewer no line through them tells more than its doubt.
	leastPieces, leastLines = 12, 6
	// leastSpread of the slope across, m per m: on ground that is alike everywhere, or where passes go one way, crab angle and a sensor that is not in line
	// cannot be told apart.
	leastSpread = 0.01
)

// Pieces are those of a log on a surface; none where it has no headings, or heights.
func (s *Surface) Pieces(log []drive.Stretch) (out []Piece) {
	for _, one := range log {
		if !one.Worked || len(one.Compass) != len(one.Line) {
			continue
		}
		for from := 0; from < len(one.Line)-1; {
			to := from + 1
			for to < len(one.Line)-1 && one.Line[to].Dist(one.Line[from]) < pieceLength {
				to++
			}
			if p, ok := s.piece(one.Line[from:to+1], one.Compass[from:to+1]); ok {
				p.Line = one.Pass
				out = append(out, p)
			}
			from = to
		}
	}
	return out
}

func (s *Surface) piece(line, compass []plane.XY) (Piece, bool) {
	way := line[len(line)-1].Sub(line[0])
	p := Piece{Length: way.Len()}
	if p.Length < pieceLength {
		return Piece{}, false
	}
	way = way.Scale(1 / p.Length)
	for _, f := range compass { // a zero vector is none
		if f.Dot(way) <= 0 || f.Dot(compass[0]) < math.Cos(pieceTurn*math.Pi/180) {
			return Piece{}, false
		}
		p.Left += way.AngleTo(f) * 180 / math.Pi / float64(len(compass))
	}
	l, ok := s.At(line[0].Lerp(line[len(line)-1], 0.5))
	p.Across, _ = l.Along(way.Left())
	return p, ok && l.aside <= atRim
}

// Crabbing is how a set turns uphill on a slope: heading − way = Sensor + PerPercent × percent of rise to the left.
type Crabbing struct {
	PerPercent float64 `json:"perPercent"` // degrees of crab angle per percent of slope across the way
	Doubt      float64 `json:"doubt"`      // degrees per percent, 95 %
	Sensor     float64 `json:"sensor"`     // degrees that headings point left of the way on level ground: the sensor is not in line
	Pieces     int     `json:"pieces"`
	Passes     int     `json:"passes"`
	Least      float64 `json:"least"` // percent, the slopes across that it was driven on, rise to the left above 0
	Most       float64 `json:"most"`
}

// Fit lays the line through pieces, their squares least by length (textbook form). Pieces of one pass err alike, so the variance of its slope is
// Σ over passes of (Σ w·x·rest)², over (Σ w·x²)², times n/(n − 2) for n passes (the sandwich, textbook form). ok is false where that tells nothing.
func Fit(pieces []Piece) (c Crabbing, ok bool) {
	var w, x, y float64
	for _, p := range pieces {
		w, x, y = w+p.Length, x+p.Length*p.Across*100, y+p.Length*p.Left
	}
	passes := map[int]float64{}
	for _, p := range pieces {
		passes[p.Line] = 0
	}
	n := float64(len(passes))
	if len(pieces) < leastPieces || n < leastLines {
		return Crabbing{}, false
	}
	x, y = x/w, y/w
	c = Crabbing{Pieces: len(pieces), Passes: len(passes), Least: math.Inf(1), Most: math.Inf(-1)}
	var xx, xy float64
	for _, p := range pieces {
		d := p.Across*100 - x
		xx, xy = xx+p.Length*d*d, xy+p.Length*d*(p.Left-y)
		c.Least, c.Most = min(c.Least, p.Across*100), max(c.Most, p.Across*100)
	}
	if xx/w < 1e4*leastSpread*leastSpread {
		return Crabbing{}, false
	}
	c.PerPercent = xy / xx
	c.Sensor = y - c.PerPercent*x
	for _, p := range pieces {
		d := p.Across*100 - x
		passes[p.Line] += p.Length * d * (p.Left - y - c.PerPercent*d)
	}
	var squares float64
	for k := range pieces { // by pieces, since a map has no order, and sums of floats do
		if sum, there := passes[pieces[k].Line]; there {
			squares += sum * sum
			delete(passes, pieces[k].Line)
		}
	}
	c.Doubt = chance.WithinT(0.95, n-2) * math.Sqrt(squares*n/(n-2)) / xx
	return c, true
}
