package job

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"balk/cmd/internal/demo"
	"balk/coverage/drive"
	"balk/coverage/rework"
	"balk/export/words"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// toldPlan is a re-work plan as rework.json has it.
type toldPlan struct {
	Chosen, Skipped []struct {
		Strip, Pieces int
		Area          float64
		Why           string
	}
	Passes []struct{ Strips []int }
	Route  []struct {
		Pass                   int
		Line                   []struct{ X, Y float64 }
		Length, Reversed, Time float64
	}
	Length, Time, Missed, Rounding float64
	Worth                          struct {
		Steps []toldStep
	}
}

type toldStep struct {
	Strips     []int
	Count      int
	Area, Time float64
}

func (p toldPlan) chosen() (numbers []int, area float64) {
	for _, v := range p.Chosen {
		numbers, area = append(numbers, v.Strip), area+v.Area
	}
	return numbers, area
}

// pondSpec is a handover of the demo's first field.
func pondSpec(t *testing.T) HandoverSpec {
	t.Helper()
	farm := filepath.Join(t.TempDir(), "farm")
	if _, err := demo.Write(t.Context(), farm, 1, func(string) {}); err != nil {
		t.Fatal(err)
	}
	im, err := new(Call).ready().Implement(filepath.Join(farm, "sweep-mounted.toml"))
	if err != nil {
		t.Fatal(err)
	}
	s := HandoverSpec{Spec: Spec{Boundary: filepath.Join(farm, "fields.geojson"), Tracks: []string{filepath.Join(farm, "track-pond.geojson")}, Out: filepath.Join(farm, "out")}}
	s.Use(im, drive.WidthFile)
	s.Work.Rounds = 3
	s.Language = words.English
	s.Rework = leastOptions
	return s
}

// metresOf are places in metres from the first, by the radii of curvature of WGS84 there (Snyder, Map Projections, 1987, p. 24).
func metresOf(line []orb.Point) (out [][2]float64) {
	const a, e2 = 6378137.0, 0.00669437999014
	sin := math.Sin(line[0][1] * math.Pi / 180)
	root := math.Sqrt(1 - e2*sin*sin)
	n, m := a/root, a*(1-e2)/(root*root*root)
	for _, p := range line {
		out = append(out, [2]float64{(p[0] - line[0][0]) * math.Pi / 180 * n * math.Sqrt(1-sin*sin), (p[1] - line[0][1]) * math.Pi / 180 * m})
	}
	return out
}

// TestFilesOfReworkByHand: of the files of a handover areas, lengths and minutes are worked out anew from places, speeds and changes of direction, and the
// third sentence from the curve; the same sentences stand on the sheet.
func TestFilesOfReworkByHand(t *testing.T) {
	s := pondSpec(t)
	s.Rework.LeastArea = 12
	s.Approach = 25
	s.Pictures = Pictures{pictureSVG}
	rep, err := Handover(t.Context(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	file := func(name string) []byte {
		text, err := os.ReadFile(filepath.Join(s.Out, name))
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	features := func(name string) []*geojson.Feature {
		all, err := geojson.UnmarshalFeatureCollection(file(name))
		if err != nil {
			t.Fatal(err)
		}
		return all.Features
	}
	var p toldPlan
	if err := json.Unmarshal(file("rework.json"), &p); err != nil {
		t.Fatal(err)
	}
	var told struct {
		Answer []string
		Spec   struct {
			Implement struct {
				Turning struct{ Speed, ReverseSpeed, Change float64 } // km/h, s
			}
		}
		Effort struct{ Speed struct{ Mean float64 } } // m/s
	}
	if err := json.Unmarshal(file(reportFile), &told); err != nil {
		t.Fatal(err)
	}

	areas := map[int]float64{} // by strip
	for _, f := range features("geojson/missed.geojson") {
		sum := 0.0
		polygons, many := f.Geometry.(orb.MultiPolygon)
		if !many {
			polygons = orb.MultiPolygon{f.Geometry.(orb.Polygon)}
		}
		for _, polygon := range polygons {
			for k, ring := range polygon {
				r, one := metresOf(ring), 0.0
				for i := range len(r) - 1 {
					one += (r[i][0]*r[i+1][1] - r[i+1][0]*r[i][1]) / 2
				}
				if one = math.Abs(one); k > 0 { // a hole
					one = -one
				}
				sum += one
			}
		}
		areas[f.Properties.MustInt("strip")] = sum
	}
	sum := 0.0
	for k, step := range p.Worth.Steps {
		for _, n := range step.Strips {
			sum += areas[n]
		}
		if math.Abs(sum-step.Area) > 1e-3*step.Area {
			t.Errorf("step %d of the curve wins %.2f m², its strips on the map have %.2f", k+1, step.Area, sum)
		}
	}

	length, seconds := 0.0, 0.0
	set := told.Spec.Implement.Turning
	cos := func(a, b, c, d struct{ X, Y float64 }) float64 { // of the angle between a → b and c → d
		u, v := [2]float64{b.X - a.X, b.Y - a.Y}, [2]float64{d.X - c.X, d.Y - c.Y}
		return (u[0]*v[0] + u[1]*v[1]) / math.Hypot(u[0], u[1]) / math.Hypot(v[0], v[1])
	}
	backs := 0
	for k, piece := range p.Route {
		line := piece.Line
		drawn := 0.0
		for i := range len(line) - 1 {
			drawn += math.Hypot(line[i+1].X-line[i].X, line[i+1].Y-line[i].Y)
		}
		if math.Abs(drawn-piece.Length) > 0.1+0.003*piece.Length { // bends are drawn as chords
			t.Errorf("piece %d is %.2f m long, its line %.2f", k, piece.Length, drawn)
		}
		want := piece.Length / told.Effort.Speed.Mean
		if piece.Pass == 0 {
			// The set turns its direction where its line folds back on itself, passes before and behind among it.
			changes := 0
			back := false
			note := func(c float64) {
				if c < -0.5 {
					changes, back = changes+1, !back
				}
			}
			if k > 0 {
				before := p.Route[k-1].Line
				note(cos(before[len(before)-2], before[len(before)-1], line[0], line[1]))
			}
			for i := range len(line) - 2 {
				note(cos(line[i], line[i+1], line[i+1], line[i+2]))
			}
			if k+1 < len(p.Route) {
				note(cos(line[len(line)-2], line[len(line)-1], p.Route[k+1].Line[0], p.Route[k+1].Line[1]))
			}
			if back {
				t.Errorf("piece %d ends in reverse", k)
			}
			backs += changes
			want = (piece.Length-piece.Reversed)/(set.Speed/3.6) + piece.Reversed/(set.ReverseSpeed/3.6) + float64(changes)*set.Change
		}
		if math.Abs(piece.Time-want) > 0.01 {
			t.Errorf("piece %d, pass %d, of %.1f m, %.1f in reverse, takes %.2f s, by hand %.2f", k, piece.Pass, piece.Length, piece.Reversed, piece.Time, want)
		}
		length, seconds = length+piece.Length, seconds+want
	}
	if math.Abs(length-p.Length) > 0.01 || math.Abs(seconds-p.Time) > 0.1 || backs == 0 {
		t.Errorf("%.1f m in %.1f s, by hand %.1f in %.1f; %d changes of direction", p.Length, p.Time, length, seconds, backs)
	}
	for k, f := range features("rework.geojson") {
		drawn, line := 0.0, f.Geometry.(orb.LineString)
		for i := range len(line) - 1 {
			step := metresOf(line[i : i+2])[1]
			drawn += math.Hypot(step[0], step[1])
		}
		if want := f.Properties.MustFloat64("length_m"); math.Abs(drawn-want) > 0.1+0.003*want {
			t.Errorf("line %d of rework.geojson is %.2f m long, it says %.1f", k, drawn, want)
		}
	}

	// The third sentence.
	steps := p.Worth.Steps
	all := steps[len(steps)-1]
	least := func(share float64) int { // the step with the fewest strips that win so much
		best := len(steps) - 1
		for k, one := range steps {
			if one.Area >= share*all.Area && one.Count < steps[best].Count {
				best = k
			}
		}
		return best
	}
	half, most := steps[least(0.5)], steps[least(0.8)]
	knee := len(steps) - 1 // the step with at least half that has none beyond the parallel to the straight from nothing to all
	for k, one := range steps {
		beyond := func(o toldStep) bool {
			return o.Area >= all.Area/2 && all.Time*(o.Area-one.Area) > all.Area*(o.Time-one.Time)+1e-6
		}
		if one.Area >= all.Area/2 && !slices.ContainsFunc(steps, beyond) {
			knee = k
			break
		}
	}
	rate := func(one toldStep) float64 { return 60 * one.Area / (one.Time + 25*60) }
	there := knee
	for k := range steps[there:] { // who has to come so far works on while that wins more per minute
		if rate(steps[there+k]) > rate(steps[knee]) {
			knee = there + k
		}
	}
	if knee == there {
		t.Error("the approach changes nothing here")
	}
	minutes := func(s float64) string { return strconv.FormatFloat(math.Max(1, math.Round(s/60)), 'f', -1, 64) }
	want := fmt.Sprintf("While still there, the best %d of %d strips win half in %s min, %d four fifths in %s, all in %s; coming back for the best %d wins %.0f m² a minute",
		half.Count, all.Count, minutes(half.Time), most.Count, minutes(most.Time), minutes(all.Time), steps[knee].Count, rate(steps[knee]))
	if half.Count == most.Count || most.Count == all.Count || half.Count < 2 {
		t.Fatalf("the sentence would be another one: %d, %d, %d strips", half.Count, most.Count, all.Count)
	}
	if !strings.Contains(told.Answer[2], want) || !slices.Equal(told.Answer, rep.Answer) {
		t.Errorf("the file says %q, the call %q, by hand %q", told.Answer[2], rep.Answer[2], want)
	}
	drawn := html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(string(file("sheet-1.svg")), " "))
	if sheet := strings.Join(strings.Fields(drawn), " "); !strings.Contains(sheet, want) {
		t.Errorf("the sheet does not say %q", want)
	}

	// The knee is what is planned; all other missed ground is named, each piece once, for its own reason.
	var taken []int
	for _, one := range steps[:knee+1] {
		taken = append(taken, one.Strips...)
	}
	numbers, chosen := p.chosen()
	slices.Sort(taken)
	if !slices.Equal(taken, numbers) {
		t.Errorf("strips %v are planned, the knee has %v", numbers, taken)
	}
	why := map[int]string{}
	skipped := 0.0
	for _, one := range p.Skipped {
		skipped += one.Area
		if _, twice := why[one.Strip]; one.Strip > 0 && (twice || slices.Contains(numbers, one.Strip)) {
			t.Errorf("strip %d is named twice", one.Strip)
		}
		why[one.Strip] = one.Why
	}
	for _, strip := range rep.Strips {
		want := ""
		switch {
		case slices.Contains(taken, strip.Number):
		case strip.Area < 12:
			want = "smaller than the least area"
		case strip.MaxWidth < 0.1:
			want = "narrower than the least width"
		default:
			want = "too little won per minute"
		}
		if why[strip.Number] != want {
			t.Errorf("strip %d of %.1f m²: %q, want %q", strip.Number, strip.Area, why[strip.Number], want)
		}
	}
	if math.Abs(chosen+skipped+p.Rounding-p.Missed) > 1e-6*p.Missed {
		t.Errorf("%.3f m² planned and %.3f left of %.3f", chosen, skipped, p.Missed)
	}
}

// TestTakenByHand: what --minutes, --share and --target take is what a look at the plans of every step of the curve finds, and of all sets of few strips none
// wins much more in the time.
func TestTakenByHand(t *testing.T) {
	s := pondSpec(t)
	const few = 15.0 // m², so that trying all is short
	s.Rework.LeastArea = few
	rep, result, err := judge(t.Context(), s.Spec, nil, nil, new(Call).ready())
	if err != nil {
		t.Fatal(err)
	}
	plan := func(change func(*HandoverSpec)) toldPlan {
		t.Helper()
		s, rep, result := s, rep, result
		change(&s)
		files, _, err := s.rework(t.Context(), &rep, &result)
		if err != nil {
			t.Fatal(err)
		}
		var text bytes.Buffer
		if err := files[slices.IndexFunc(files, func(f output) bool { return f.name == "rework.json" })].write(&text); err != nil {
			t.Fatal(err)
		}
		var p toldPlan
		if err := json.Unmarshal(text.Bytes(), &p); err != nil {
			t.Fatal(err)
		}
		return p
	}
	steps := plan(func(s *HandoverSpec) { s.Target = TargetPerennial }).Worth.Steps
	all := steps[len(steps)-1]
	var plans []toldPlan // of every step
	for _, step := range steps {
		p := plan(func(s *HandoverSpec) { s.Rework.Take = rework.Take{Share: step.Area / all.Area} })
		if len(p.Chosen) != step.Count {
			t.Errorf("%.4f of what all win: %d strips, the curve has %d", step.Area/all.Area, len(p.Chosen), step.Count)
		}
		plans = append(plans, p)
	}
	for _, minutes := range []float64{0.1, plans[0].Time/60 + 0.01, (plans[1].Time + plans[2].Time) / 120, plans[len(plans)/2].Time/60 - 0.01, 1e4} {
		p := plan(func(s *HandoverSpec) { s.Rework.Take = rework.Take{Minutes: minutes} })
		_, won := p.chosen()
		best := 0.0
		for _, one := range plans {
			if one.Time > 60*minutes {
				break
			}
			_, best = one.chosen()
		}
		if p.Time > 60*minutes || won < best-1e-6 {
			t.Errorf("%.2f min: %.1f m² in %.2f min, by the plans of all steps %.1f m²", minutes, won, p.Time/60, best)
		}
	}
	for share, take := range map[float64]func(*HandoverSpec){
		0.5: func(s *HandoverSpec) { s.Rework.Take = rework.Take{Share: 0.5} },
		0.9: func(s *HandoverSpec) { s.Target = TargetSod },
		1:   func(s *HandoverSpec) { s.Target = TargetPerennial },
	} {
		_, won := plan(take).chosen()
		k := slices.IndexFunc(steps, func(one toldStep) bool { return one.Area >= share*all.Area*(1-1e-9) })
		if math.Abs(won-steps[k].Area) > 1e-6 {
			t.Errorf("%g of the missed ground: %.1f m² of %.1f, by hand %.1f", share, won, all.Area, steps[k].Area)
		}
	}
	// All sets of the four largest strips.
	large := rep.Strips[:4]
	var won, took []float64
	for set := range 1 << len(large) {
		var in []int
		area := 0.0
		for k, one := range large {
			if set>>k&1 == 1 {
				in, area = append(in, one.Number), area+one.Area
			}
		}
		p := plan(func(s *HandoverSpec) {
			s.Rework.LeastArea, s.Rework.First, s.Target = 1e9, in, TargetPerennial
		})
		if len(p.Chosen) != len(in) {
			t.Fatalf("of strips %v %d are planned", in, len(p.Chosen))
		}
		won, took = append(won, area), append(took, p.Time)
	}
	for set := range won {
		p := plan(func(s *HandoverSpec) {
			s.Rework.LeastArea = large[len(large)-1].Area
			s.Rework.Take = rework.Take{Minutes: (took[set] + 0.1) / 60}
		})
		_, got := p.chosen()
		best := 0.0
		for other := range won {
			if took[other] <= took[set]+0.1 {
				best = max(best, won[other])
			}
		}
		if got < 0.9*best || got > best+1e-6 {
			t.Errorf("%.0f s: %.1f m², of all sets the best wins %.1f", took[set], got, best)
		}
	}
}
