package trial

import (
	"fmt"
	"math"
	"os"
	"runtime/debug"
	"slices"
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// Towards is the direction at so many degrees.
func Towards(degrees ...float64) (out []plane.XY) {
	for _, d := range degrees {
		sin, cos := math.Sincos(d * math.Pi / 180)
		out = append(out, plane.XY{X: cos, Y: sin})
	}
	return out
}

// Near compares m² and m; the sketches go through degrees and back.
func Near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g within %.2g", what, got, want, tol)
	}
}

const Square100 = 1e-4 // m² of tolerance on sketches of a hectare

// Say joins what a trail's placing found.
func Say(found []geo.Finding) string {
	var b strings.Builder
	for _, f := range found {
		b.WriteString(f.What + "\n")
	}
	return b.String()
}

// Winding is how often a closed line winds counter-clockwise round p.
func Winding(line []plane.XY, p plane.XY) int {
	n := 0
	for i, a := range line {
		b := line[(i+1)%len(line)]
		side := b.Sub(a).Cross(p.Sub(a))
		switch {
		case a.Y <= p.Y && b.Y > p.Y && side > 0:
			n++
		case a.Y > p.Y && b.Y <= p.Y && side < 0:
			n--
		}
	}
	return n
}

// Long tells whether the long counts are asked for (BALK_LONG, set by .ci/long): all
// cases instead of the drawn share that the gate takes.
func Long() bool { return os.Getenv("BALK_LONG") != "" }

// UnderRaceDetector says whether the race detector slows the test down.
func UnderRaceDetector() bool {
	info, ok := debug.ReadBuildInfo()
	return ok && slices.Contains(info.Settings, debug.BuildSetting{Key: "-race", Value: "true"})
}

// Few is n, and a third of it under the race detector: a room's goroutines meet in one case as in twelve,
// and what the cases count is counted without it.
func Few(n uint64) uint64 {
	if UnderRaceDetector() {
		return (n + 2) / 3
	}
	return n
}

// FilesOf cuts a track before the given fixes, which must rise, into tracks of
// their own; shared: the fix before is in both.
func FilesOf(t geo.Track, before []int, shared bool) []geo.Track {
	var out []geo.Track
	from := 0
	for n, to := range append(before, t.Fixes()) {
		one := t.Cut(func(k int) bool { return k >= from && k < to }, false)
		one.Source = fmt.Sprintf("log%d.gpx", n)
		out = append(out, one)
		from = to
		if shared {
			from--
		}
	}
	return out
}
