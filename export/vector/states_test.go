package vector

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/geo/read"
	"balk/testdata/check"
	"balk/testdata/trial"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// toAndFro is a field of 120 m × 48 m and a log of 8 passes of 6 m with half
// circles between them, at 1 Hz and 2.5 m/s, with a log gap and, in a third of
// the tracks, some fixes whose state is not known; all columns are logged.
func toAndFro(rng *rand.Rand) (geo.Field, geo.Track) {
	l := geo.LocalAt(orb.Point{11.57, 48.14})
	var boundary orb.Ring
	for _, p := range []plane.XY{{X: 0, Y: 0}, {X: 120, Y: 0}, {X: 120, Y: 48}, {X: 0, Y: 48}, {X: 0, Y: 0}} {
		boundary = append(boundary, l.Point(p))
	}
	track := geo.Track{Source: "log", Line: geom.NewMultiLineString(geom.XYM)}
	var flat []float64
	now := 1.75e9
	fix := func(p plane.XY, facing float64, s geo.WorkState) {
		p = p.Add(plane.XY{X: 0.02 * rng.NormFloat64(), Y: 0.02 * rng.NormFloat64()})
		q := l.Point(p)
		flat = append(flat, q[0], q[1], now)
		track.State = append(track.State, s)
		track.Width = append(track.Width, 6-float64(rng.IntN(2)))
		track.Offset = append(track.Offset, 0.25*float64(rng.IntN(2)))
		track.Speed = append(track.Speed, 2.5)
		track.Heading = append(track.Heading, geo.Bearing(math.Mod(facing+3*rng.NormFloat64()+360, 360)))
		track.Quality = append(track.Quality, geo.QualityFixed)
		track.Height = append(track.Height, 300+0.05*p.Y)
		now++
	}
	stand := func(s geo.WorkState, seconds float64) { // on the very spot of the fix before
		n := len(track.State)
		flat = append(flat, flat[3*n-3], flat[3*n-2], now-1+seconds)
		track.State, track.Width, track.Offset = append(track.State, s), append(track.Width, track.Width[n-1]), append(track.Offset, track.Offset[n-1])
		track.Speed, track.Heading, track.Quality = append(track.Speed, 0), append(track.Heading, track.Heading[n-1]), append(track.Quality, geo.QualityFloat)
		track.Height = append(track.Height, track.Height[n-1])
		now += seconds
	}
	gap, open := rng.IntN(8), rng.IntN(24)
	for row := range 8 {
		way, bearing, y := 1.0, 90.0, 3+6*float64(row)
		if row%2 == 1 {
			way, bearing = -1, 270
		}
		for x := -57.0; x <= 57; x += 2.5 {
			s := geo.Working
			if row == open && math.Abs(x) < 8 {
				s = geo.StateUnknown
			}
			if row == gap && x > 10 && x < 40 {
				now++
				continue
			}
			fix(plane.XY{X: 60 + way*x, Y: y}, bearing, s)
			if row == gap && x == -7 {
				stand(geo.Working, 8)
			}
		}
		if row%3 == 0 {
			stand(geo.Lifted, 0.01) // as a lift switch notes it
		}
		if row == 4 {
			stand(geo.Lifted, 9)
		}
		for a := -75.0; a < 90 && row < 7; a += 30 {
			sin, cos := math.Sincos(a * math.Pi / 180)
			fix(plane.XY{X: 60 + way*(58+3*cos), Y: y + 3 + 3*sin}, bearing-way*(a+90), geo.Lifted)
		}
	}
	if err := track.Line.Push(geom.NewLineStringFlat(geom.XYM, flat)); err != nil {
		panic(err) // a fault of the test
	}
	return geo.Field{Name: "to and fro", Number: 1, Boundary: orb.MultiPolygon{{boundary}}}, track
}

func checked(t *testing.T, f geo.Field, tracks []geo.Track, w drive.Work) coverage.Result {
	t.Helper()
	r, err := coverage.Check(t.Context(), f, tracks, w)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// readBack writes the states of r, lets edit change the file, and reads it.
func readBack(t *testing.T, r coverage.Result, edit func([]byte) []byte) []geo.Track {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, "states", r); err != nil {
		t.Fatal(err)
	}
	raw := b.Bytes()
	if edit != nil {
		raw = edit(raw)
	}
	tracks, findings, err := read.GeoJSONTracks(bytes.NewReader(raw), "states.geojson", read.TrackOptions{})
	if err != nil || len(findings) > 0 {
		t.Fatal(err, findings)
	}
	return tracks
}

func sameBalance(t *testing.T, what string, got, want coverage.Result) {
	t.Helper()
	a, b := got.Balance, want.Balance
	for _, d := range []float64{a.Missed - b.Missed, a.Unknown - b.Unknown, a.Once - b.Once, a.Twice - b.Twice, a.More - b.More, a.Outside - b.Outside, a.Swath - b.Swath,
		got.FullMissed - want.FullMissed, got.Headland.Lifted - want.Headland.Lifted} {
		if math.Abs(d) > 1e-7*b.Field { // an estimated motion has a part of each fix's rounding
			t.Errorf("%s: the balance differs by %g m²\n%+v\n%+v", what, d, a, b)
			return
		}
	}
}

// The layer of states, given as the track, leads to the same balance.
func TestStatesReadBackGiveTheSameBalance(t *testing.T) {
	const seed = 11
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	trailed := rig.Mount{Trailed: true, AntennaAhead: 1, Hitch: 2.5, Drawbar: 3, BarBehind: 1}
	unknown, gaps := 0, 0
	fields := 9
	if trial.Long() {
		fields = 24
	}
	for n := range fields {
		f, track := toAndFro(rng)
		w := drive.Work{Width: 6, Overlap: 0.1, Rounds: n % 2}
		if n%3 == 1 {
			w.Mount = trailed
		}
		for _, what := range []string{"logged", "inferred", "bare", "all"} {
			given := track
			switch what {
			case "inferred":
				w.Working = drive.EvidenceInferred
			case "bare": // nothing logged but the way
				given = geo.Track{Source: track.Source, Line: track.Line}
				w.Working = drive.EvidenceAny
			case "all":
				w.Working = drive.EvidenceAll
			}
			first := checked(t, f, []geo.Track{given}, w)
			w.Working = drive.EvidenceAny
			sameBalance(t, what, checked(t, f, readBack(t, first, nil), w), first)
			if first.Balance.Unknown > 0 {
				unknown++
			}
			for _, s := range first.Log {
				if s.Activity == drive.ActivityUnknown {
					gaps++
				}
			}
		}
	}
	if unknown < fields || gaps < fields {
		t.Errorf("too tame: %d with unknown ground, %d unknown stretches", unknown, gaps)
	}
}

// Three machine logs with work state, sections and gaps (shared folder open/).
func TestStatesOfMachineLogsReadBack(t *testing.T) {
	dir := check.Shared(t, "open", "isobus")
	fields, _, err := read.Fields(filepath.Join(dir, "boundaries.geojson"), read.Options{Mend: true})
	if err != nil {
		t.Fatal(err)
	}
	byName := map[string]geo.Field{}
	for _, f := range fields {
		byName[f.Name] = f
	}
	seen := 0
	for _, path := range []string{"TLG00004.csv", "TLG00009.csv", "TLG00021.csv"} {
		tracks, _, err := read.Tracks(filepath.Join(dir, path), read.TrackOptions{})
		if err != nil {
			t.Fatal(err)
		}
		f, ok := nearest(fields, tracks[0])
		if !ok {
			t.Errorf("%s: on no field", path)
			continue
		}
		seen++
		w := drive.Work{Width: 9, Rounds: 1}
		first := checked(t, f, tracks, w)
		second := checked(t, f, readBack(t, first, nil), w)
		// Their motion is estimated, from coordinates that the file rounds to a tenth of a millimetre.
		if d := math.Abs(second.Balance.Missed - first.Balance.Missed); d > 1e-4*first.Balance.Field || second.Balance.Unknown != 0 != (first.Balance.Unknown != 0) {
			t.Errorf("%s: missed %.3f m², first %.3f", path, second.Balance.Missed, first.Balance.Missed)
		}
	}
	if seen != 3 {
		t.Errorf("%d logs, want 3", seen)
	}
}

// nearest is the field whose bounds hold the middle fix of a track.
func nearest(fields []geo.Field, t geo.Track) (geo.Field, bool) {
	c := t.Line.FlatCoords()
	k := t.Fixes() / 2 * t.Line.Stride()
	for _, f := range fields {
		if f.Boundary.Bound().Contains(orb.Point{c[k], c[k+1]}) {
			return f, true
		}
	}
	return geo.Field{}, false
}

// Who changes the state of a line overrides it: a lifted pass is missed, a
// lowered turn is worked.
func TestStatesCanBeOverridden(t *testing.T) {
	f, track := toAndFro(rand.New(rand.NewPCG(5, 5)))
	track = geo.Track{Source: track.Source, Line: track.Line}
	w := drive.Work{Width: 6}
	first := checked(t, f, []geo.Track{track}, w)
	set := func(activity, state string, longer float64) func([]byte) []byte {
		return func(raw []byte) []byte {
			var c map[string]any
			if err := json.Unmarshal(raw, &c); err != nil {
				t.Fatal(err)
			}
			seen := 0
			for _, f := range c["features"].([]any) {
				p := f.(map[string]any)["properties"].(map[string]any)
				if p["activity"] == activity && p["length_m"].(float64) > longer {
					if seen++; seen == 3 {
						p["state"] = state
					}
				}
			}
			if seen < 3 {
				t.Fatalf("%d lines are %s", seen, activity)
			}
			out, err := json.Marshal(c)
			if err != nil {
				t.Fatal(err)
			}
			return out
		}
	}
	lifted := checked(t, f, readBack(t, first, set("working", "lifted", 100)), w)
	if more := lifted.Balance.Missed - first.Balance.Missed; more < 500 || more > 720 {
		t.Errorf("a pass of 115 m × 6 m lifted: %.0f m² more missed, want about 690", more)
	}
	lowered := checked(t, f, readBack(t, first, set("turning", "working", 5)), w)
	if more := lowered.Balance.Swath - first.Balance.Swath; more < 30 || more > 80 {
		t.Errorf("a turn lowered: %.0f m² more swath, want about 3π m · 6 m = 57", more)
	}
	if !slices.ContainsFunc(first.Findings, func(f geo.Finding) bool { return strings.Contains(f.What, "inferred for") }) {
		t.Errorf("findings %v do not say that work was inferred", first.Findings)
	}
}

// TestStatesOfEveryFormatGiveTheSameBalance: a GeoPackage and KML, with text for lists, and a shapefile, with a
// point per fix, given back as the track.
func TestStatesOfEveryFormatGiveTheSameBalance(t *testing.T) {
	const seed = 12
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	for n := range 6 {
		f, track := toAndFro(rng)
		w := drive.Work{Width: 6, Overlap: 0.1, Rounds: n % 2}
		for _, what := range []string{"logged", "inferred", "bare"} {
			given := track
			w.Working = drive.EvidenceAny
			switch what {
			case "inferred":
				w.Working = drive.EvidenceInferred
			case "bare":
				given = geo.Track{Source: track.Source, Line: track.Line}
			}
			first := checked(t, f, []geo.Track{given}, w)
			w.Working = drive.EvidenceAny
			layers, err := LayersOf(first)
			if err != nil {
				t.Fatal(err)
			}
			fixes, err := StateFixes(first)
			if err != nil {
				t.Fatal(err)
			}
			for _, format := range []string{"KML", "KMZ", "GeoPackage", "shapefile", "shapefiles in a zip"} {
				l := layers[2]
				if strings.HasPrefix(format, "shapefile") {
					l = fixes
				}
				tracks, findings, err := read.Tracks(saved(t, format, l), read.TrackOptions{})
				if err != nil || len(findings) > 0 || !tracks[0].Came.States {
					t.Fatalf("%s, %s: %v, %v", format, what, err, findings)
				}
				sameBalance(t, format+", "+what, checked(t, f, tracks, w), first)
			}
		}
	}
}

// A length is written to the centimetre, as people read it.
func TestLengthOfAState(t *testing.T) {
	var p properties
	p.stretch(drive.Stretch{Length: 1234.5678}, coverage.Result{Local: geo.LocalAt(orb.Point{11, 48})})
	if text := string(p.text); !strings.Contains(text, `"length_m":1234.57`) || !strings.Contains(text, `"track":1,`) {
		t.Error(text)
	}
}

// A list holds its values digit for digit, whatever stands before each.
func TestListOfValues(t *testing.T) {
	nan, below := math.NaN(), math.Copysign(0, -1)
	for want, v := range map[string][]float64{
		`"widths":[6,6,6,5.9,6]`:                                     {6, 6, 6, 5.9, 6},
		`"widths":[null,null,6,6,null]`:                              {nan, nan, 6, 6, nan},
		`"widths":[0,-0,0,0,-0]`:                                     {0, below, 0, 0, below},
		`"widths":[0.1,0.30000000000000004,0.30000000000000004,1,1]`: {0.1, 0.30000000000000004, 0.30000000000000004, 1, 1},
		`"widths":[]`:                                                {},
	} {
		var p properties
		if p.column("widths", v); string(p.text) != want {
			t.Errorf("%v: %s, want %s", v, p.text, want)
		}
	}
}

// Heights go out and come back, and where slopes are known each fix has its own: ground that rises by 5 % to the north, rows from west to east and back.
func TestHeightsOfStates(t *testing.T) {
	f, track := toAndFro(rand.New(rand.NewPCG(3, 1)))
	r := checked(t, f, []geo.Track{track}, drive.Work{Width: 6})
	back := readBack(t, r, nil)
	for _, one := range back {
		if len(one.Height) != one.Fixes() || !(one.Height[0] >= 300 && one.Height[0] <= 303) {
			t.Fatalf("%d heights for %d fixes", len(one.Height), one.Fixes())
		}
	}
	text := func(r coverage.Result) string {
		var b bytes.Buffer
		if err := Write(&b, statesLayer, r); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	if s := text(r); r.Slope == nil || !strings.Contains(s, `"left_pct":[5,5`) || !strings.Contains(s, `"left_pct":[-5,-5`) || !strings.Contains(s, `"up_pct":[`) {
		t.Errorf("slope known: %t, %.1500s", r.Slope != nil, s)
	}
	fixes, err := StateFixes(r)
	if err != nil || !slices.ContainsFunc(fixes.Columns, func(p Property) bool { return p.Name == "height" }) {
		t.Error(err, fixes.Columns)
	}
	track.Height = nil
	if s := text(checked(t, f, []geo.Track{track}, drive.Work{Width: 6})); strings.Contains(s, "_pct") || strings.Contains(s, "heights") {
		t.Error("heights of a log without")
	}
}
