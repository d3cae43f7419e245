package job

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"balk/coverage/pattern"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/fieldday"

	"github.com/paulmach/orb"
)

// TestPatternsOfOneDayHoweverLogged: what strips have in common does not hang on how a day is logged (each second fix, parts in another order, each fix twice, the
// log given twice, another format), on which way the field lies (turned round, in a mirror), or on which way it was driven: the same film run backwards has row
// ends lifted early that were lowered late, and a line shifted the other way.
func TestPatternsOfOneDayHoweverLogged(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds of driving")
	}
	knowns := map[string]fieldday.Known{}
	for _, k := range fieldday.Knowns() {
		knowns[k.Name] = k
	}
	for _, name := range []string{"late in the north", "line shifted", "lines too far apart", "each row turns", "rows turn, late in the north"} {
		k, ok := knowns[name]
		if !ok {
			t.Fatalf("no day %q", name)
		}
		t.Run(name, func(t *testing.T) {
			day, err := fieldday.Drive(k.Driving, 1)
			if err != nil {
				t.Fatal(err)
			}
			k.Receiver.Hertz = 2 // half of that tells a row's end to 1.5 m, as most logs do
			track, field := day.Log(k.Receiver)
			d := make(driving, len(track.State))
			flat, stride := track.Line.FlatCoords(), track.Line.Stride()
			for i := range d {
				c := flat[i*stride : i*stride+stride]
				d[i] = fix{orb.Point{c[0], c[1]}, time.UnixMilli(int64(math.Round(1e3 * c[2]))).UTC(), track.State[i] == geo.Working}
			}
			s := spec(t)
			s.Work.Width, s.Work.Overlap, s.Work.Rounds = 6, 0.1, 2
			// moved is a point of a field in a mirror: east and west, north and south.
			moved := func(p orb.Point, x, y float64) orb.Point {
				at := fieldday.Paper.XY(p)
				return fieldday.Paper.Point(plane.XY{X: x * at.X, Y: y * at.Y})
			}
			said := func(d driving, x, y float64, format int, times int) []pattern.Pattern {
				t.Helper()
				at := slices.Clone(d)
				for i := range at {
					at[i].at = moved(at[i].at, x, y)
				}
				var ring orb.Ring
				for _, p := range field.Boundary[0][0] {
					ring = append(ring, moved(p, x, y))
				}
				boundary := `{"type":"Feature","properties":{},"geometry":{"type":"Polygon","coordinates":[[`
				for i, p := range ring {
					if i > 0 {
						boundary += ","
					}
					boundary += fmt.Sprintf("[%.10f,%.10f]", p[0], p[1])
				}
				s.Boundary = toFile(t, filepath.Join(t.TempDir(), "field.geojson"), func(w io.Writer) error {
					_, err := io.WriteString(w, boundary+"]]}}")
					return err
				})
				var paths []string
				for range times {
					paths = append(paths, formats[format].write(t, t.TempDir(), at))
				}
				r, _ := checked(t, s, paths...)
				return r.Patterns
			}
			want := said(d, 1, 1, 0, 1)
			if found, falsely := k.Told(want); !found || falsely {
				t.Fatalf("as logged: %+v, want %v", want, k.Want)
			}
			same := func(how string, got []pattern.Pattern, by float64, towards func(kind pattern.Kind, degrees float64) float64, kinds map[pattern.Kind]pattern.Kind) {
				t.Helper()
				if len(got) != len(want) {
					t.Errorf("%s: %+v, as logged %+v", how, got, want)
					return
				}
				for _, w := range want {
					kind := w.Kind
					if other, ok := kinds[kind]; ok {
						kind = other
					}
					i := slices.IndexFunc(got, func(p pattern.Pattern) bool { return p.Kind == kind })
					if i < 0 {
						t.Errorf("%s: no %q in %+v", how, kind, got)
						continue
					}
					p := got[i]
					turned := math.Abs(math.Mod(p.Towards-towards(w.Kind, w.Towards)+540, 360) - 180)
					if math.Abs(p.By-w.By) > by*w.By || math.Abs(p.Area-w.Area) > by*w.Area || math.Abs(float64(p.Seen-w.Seen)) > 0.1*float64(w.Of) || w.Kind != pattern.Apart && turned > 2 {
						t.Errorf("%s: %+v, as logged %+v", how, p, w)
					}
				}
			}
			asIs := func(_ pattern.Kind, degrees float64) float64 { return degrees }
			const rounded, drawn = 0.02, 0.1 // shares: by the digits of a format, and by where ends of rows lie between fixes twice as far apart
			var thin, parts, each driving
			for i, f := range d {
				if i%2 == 0 {
					thin = append(thin, f)
				}
				each = append(each, f, f)
			}
			for _, part := range []int{3, 0, 5, 1, 6, 2, 4} {
				parts = append(parts, d[part*len(d)/7:(part+1)*len(d)/7]...)
			}
			back := slices.Clone(d)
			slices.Reverse(back)
			for i := range back {
				back[i].when = d[i].when
			}
			same("every second fix", said(thin, 1, 1, 0, 1), drawn, asIs, nil)
			same("parts in another order", said(parts, 1, 1, 0, 1), 1e-9, asIs, nil)
			same("each fix twice", said(each, 1, 1, 0, 1), rounded, asIs, nil)
			same("the log twice", said(d, 1, 1, 0, 2), rounded, asIs, nil)
			same("as GeoJSON", said(d, 1, 1, 1, 1), rounded, asIs, nil)
			same("in a mirror", said(d, -1, 1, 0, 1), rounded, func(_ pattern.Kind, degrees float64) float64 { return -degrees }, nil)
			same("turned round", said(d, -1, -1, 0, 1), rounded, func(_ pattern.Kind, degrees float64) float64 { return degrees + 180 }, nil)
			same("driven the other way", said(back, 1, 1, 0, 1), drawn, func(kind pattern.Kind, degrees float64) float64 {
				if kind == pattern.Shifted {
					degrees += 180
				}
				return degrees
			}, map[pattern.Kind]pattern.Kind{pattern.Late: pattern.Early})
		})
	}
}
