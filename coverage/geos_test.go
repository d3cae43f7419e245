package coverage

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os/exec"
	"strings"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// python is an interpreter with Debian's python3-shapely, by which GEOS is asked: Debian's own, where another stands before it.
func python(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"python3", "/usr/bin/python3"} {
		if path, err := exec.LookPath(name); err == nil && exec.Command(path, "-c", "import shapely").Run() == nil {
			return path
		}
	}
	check.Skip(t, "python3-shapely (Debian) is not installed")
	return ""
}

// bareDay is ground with the bars that went over it, and the strips listed, for GEOS.
type bareDay struct {
	Field  []plane.Polygon `json:"field"`
	Quads  []plane.Polygon `json:"quads"` // from each bar to the next that worked
	Strips []bareStrip     `json:"strips"`
	Circle float64         `json:"circle"` // m, diameter that fits into whatever must be listed: a sliver's, and by what the widest circle may be missed
	Drawn  float64         `json:"drawn"`  // m, by so much places are rounded
}

type bareStrip struct {
	Shape plane.Polygon `json:"shape"`
	At    plane.XY      `json:"at"`
}

// bareFound is what GEOS makes of a bareDay.
type bareFound struct {
	Missed   float64   // m², field less the union of the quads
	Pieces   []float64 // m², those that it falls into
	Wide     []bool    // the circle fits into them
	In       []int     // of each strip, the piece that holds its place; -1: none
	Areas    []float64 // m² of each strip
	Beyond   []float64 // m² of each strip outside of what is missed
	Together float64   // m², union of all strips
	Left     int       // parts of what is missed, strips taken away, into which the circle fits
}

// rowsWithSlivers are eight rows of 6 m with centimetres or decimetres between them, leaning a little to each other, ends that are short, and lifts:
// blocks hang together by necks.
func rowsWithSlivers(rng *rand.Rand) trial.Sketch {
	const half, long = 3.0, 200.0
	var s trial.Sketch
	y := 0.0
	for range 8 {
		y += 0.3*rng.Float64()*rng.Float64() - 0.02
		lean := 0.05 * rng.NormFloat64()
		row := func(from, to float64) {
			at := func(x float64) plane.XY { return plane.XY{X: x, Y: y + half + lean*x/long} }
			s.Lines = append(s.Lines, trial.Straight(at(from), at(to), 2))
		}
		from, to := 5*rng.Float64()*float64(rng.IntN(2)), long-5*rng.Float64()*float64(rng.IntN(2))
		if rng.IntN(3) == 0 {
			lift := 40 + 100*rng.Float64()
			row(from, lift)
			from = lift + 0.5 + 8*rng.Float64()
		}
		row(from, to)
		y += 2 * half
	}
	s.Rings = [][]plane.XY{trial.Rectangle(0, 0, long, y)}
	return s
}

// bareDayOf has the bars of a sketch anew, and the strips that are listed of it.
func bareDayOf(t *testing.T, s trial.Sketch, w drive.Work) (Result, bareDay) {
	t.Helper()
	r := checked(t, s, w)
	log, err := drive.Read(t.Context(), r.Layers.Field, r.Local, []geo.Track{s.Track()}, w, drive.AsJudged)
	if err != nil {
		t.Fatal(err)
	}
	// The cut at necks loses nothing.
	pieces, err := PiecesOf(t.Context(), r.Local, r.Layers.Missed, 0, log.Runs, 0)
	if err != nil {
		t.Fatal(err)
	}
	listed, drawn := pieces.SliverArea, 0.0
	for _, s := range pieces.Strips {
		listed += s.Area
	}
	for _, p := range r.Layers.Missed {
		drawn += p.Area()
	}
	if math.Abs(listed-drawn) > 1e-9*drawn {
		t.Errorf("strips and slivers have %.12f m² of %.12f", listed, drawn)
	}
	day := bareDay{Field: r.Layers.Field, Circle: sliver + 2*widestPrecision, Drawn: 1. / 8000}
	for _, run := range log.Runs {
		for i := 1; i < len(run.Stops); i++ {
			a, b := run.Stops[i-1], run.Stops[i]
			if !a.Next.Ground() {
				continue
			}
			half := func(s drive.Stop) plane.XY { return s.Left.Scale((run.Parts[s.Part].Width - w.Overlap) / 2) }
			day.Quads = append(day.Quads, plane.Polygon{{a.At.Sub(half(a)), b.At.Sub(half(b)), b.At.Add(half(b)), a.At.Add(half(a))}})
		}
	}
	for _, s := range r.Strips {
		day.Strips = append(day.Strips, bareStrip{s.Shape, r.Local.XY(s.At)})
	}
	return r, day
}

// askGEOS puts days to GEOS.
func askGEOS(t *testing.T, python string, days []bareDay) (version string, found []bareFound) {
	t.Helper()
	asked, err := json.Marshal(days)
	if err != nil {
		t.Fatal(err)
	}
	var said, complaints bytes.Buffer
	cmd := exec.Command(python, "testdata/strips.py")
	cmd.Stdin, cmd.Stdout, cmd.Stderr = bytes.NewReader(asked), &said, &complaints
	if err := cmd.Run(); err != nil {
		t.Fatalf("%v: %s", err, strings.TrimSpace(complaints.String()))
	}
	var answer struct {
		GEOS  string
		Cases []bareFound
	}
	if err := json.Unmarshal(said.Bytes(), &answer); err != nil || len(answer.Cases) != len(days) {
		t.Fatalf("%d answers to %d days: %v", len(answer.Cases), len(days), err)
	}
	return answer.GEOS, answer.Cases
}

// faults are those of a day's list beside what GEOS found.
func (found bareFound) faults(r Result, day bareDay) (faults []string) {
	fault := func(format string, a ...any) { faults = append(faults, fmt.Sprintf(format, a...)) }
	if off := math.Abs(r.Balance.Missed - found.Missed); off > 1e-8*r.Balance.Field {
		fault("%.7f m² missed, GEOS has %.7f", r.Balance.Missed, found.Missed)
	}
	of, rim := make([]float64, len(found.Pieces)), make([]float64, len(found.Pieces))
	var all, around float64
	for k, in := range found.In {
		shape := day.Strips[k].Shape
		long := shape.Perimeter()
		all, around = all+found.Areas[k], around+long
		// Rounding may make a ring cross itself: a loop no wider than that, and not much longer, counts with the other sign.
		if off := math.Abs(shape.Area() - found.Areas[k]); off > 1e-9*found.Areas[k]+100*day.Drawn*day.Drawn {
			fault("strip %d has %.9f m², GEOS has %.9f", k+1, shape.Area(), found.Areas[k])
		}
		if found.Beyond[k] > day.Drawn*long {
			fault("%.6f m² of strip %d are not missed", found.Beyond[k], k+1)
		}
		if in < 0 {
			fault("the place of strip %d is not missed", k+1)
			continue
		}
		of[in], rim[in] = of[in]+found.Areas[k], rim[in]+long
	}
	for k, area := range found.Pieces {
		if of[k] > area+day.Drawn*rim[k] {
			fault("a piece of %.6f m² has strips of %.6f", area, of[k])
		}
		if found.Wide[k] && of[k] == 0 {
			fault("of a piece of %.6f m² no strip is listed", area)
		}
	}
	if all-found.Together > day.Drawn*around {
		fault("strips of %.6f m² lie on %.6f", all, found.Together)
	}
	if found.Left > 0 {
		fault("%d places of missed ground are wider than a sliver and in no strip", found.Left)
	}
	var edge float64
	for _, p := range r.Layers.Missed {
		edge += p.Perimeter()
	}
	if sum := all + r.SliverArea; math.Abs(sum-found.Missed) > day.Drawn*edge {
		fault("strips of %.6f m² and slivers of %.6f, GEOS has %.6f", all, r.SliverArea, found.Missed)
	}
	return faults
}

// TestStripsAgainstGEOS: the list of strips beside polygons that GEOS makes of the same bars, without the engine here. A piece of GEOS holds the strips
// that were cut from it at necks: each lies in one, they add up to it less its slivers, and nothing wider than a sliver is left unlisted.
func TestStripsAgainstGEOS(t *testing.T) {
	name := python(t)
	seed := check.Seed(t)
	var days []bareDay
	var results []Result
	for n := range uint64(30) {
		rng := rand.New(rand.NewPCG(seed, n))
		sketch, w := rowsWithSlivers(rng), drive.Work{Width: 6}
		if n%3 == 2 {
			sketch, w = trial.Operation(rng), drive.Work{Width: 5, Overlap: 0.1}
		}
		r, day := bareDayOf(t, sketch, w)
		results, days = append(results, r), append(days, day)
	}
	version, found := askGEOS(t, name, days)
	strips, pieces, cut := 0, 0, 0
	for n, f := range found {
		for _, fault := range f.faults(results[n], days[n]) {
			t.Errorf("day %d: %s", n, fault)
		}
		strips += len(f.In)
		holding := map[int]int{}
		for _, k := range f.In {
			holding[k]++
		}
		for _, many := range holding {
			if pieces++; many > 1 {
				cut++
			}
		}
	}
	t.Logf("GEOS %s: %d strips in %d pieces, %d of them cut at necks", version, strips, pieces, cut)
	if strips < 300 || cut < 20 {
		t.Errorf("%d strips, %d pieces cut", strips, cut)
	}

	// It must tell a strip left out, one listed twice, one that lies 20 cm off, and a row that was not laid.
	good := days[0]
	n := len(good.Strips)
	if n < 2 {
		t.Fatalf("day 0 has %d strips", n)
	}
	less, twice, off, row := good, good, good, good
	less.Strips = good.Strips[:n-1]
	twice.Strips = append(good.Strips[:n:n], good.Strips[0])
	off.Strips = append([]bareStrip{good.Strips[0].moved(0.2)}, good.Strips[1:]...)
	row.Quads = good.Quads[:len(good.Quads)-50]
	wrong := []bareDay{less, twice, off, row}
	_, found = askGEOS(t, name, wrong)
	for k, f := range found {
		if len(f.faults(results[0], wrong[k])) == 0 {
			t.Errorf("break %d is not told", k)
		}
	}
}

// moved is the strip, metres to the side.
func (s bareStrip) moved(by float64) bareStrip {
	off := plane.XY{Y: by}
	out := bareStrip{At: s.At.Add(off)}
	for _, ring := range s.Shape {
		var r plane.Ring
		for _, q := range ring {
			r = append(r, q.Add(off))
		}
		out.Shape = append(out.Shape, r)
	}
	return out
}
