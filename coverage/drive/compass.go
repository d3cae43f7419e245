package drive

import (
	"cmp"
	"fmt"
	"math"

	"balk/geo"
)

const (
	// compassChord is how long the ways are that headings are held against: a receiver's noise of a metre turns them by 16°.
	compassChord = 5.0 // m
	// compassLeast: fewer ways prove nothing.
	compassLeast = 20
	// compassAhead: on so much of its way a set points ahead, to 45°; else its headings are no bearings, or it is driven backwards. Common practice, no source.
	compassAhead = 0.75
	// compassOther: so much of the way must bear out another reading of the headings.
	compassOther = 0.9
	// compassStill: no compass of a set that goes to and fro keeps to so little.
	compassStill = 1.0 // degrees
)

// A compass is how logged headings are to be read; nil: they are none.
type compass func(geo.Bearing) geo.Bearing

func asLogged(b geo.Bearing) geo.Bearing { return b }

// otherCompasses are those of programs that reckon in radians, or as mathematics does, with what is said of them.
var otherCompasses = []struct {
	read  compass
	words string
}{
	{func(b geo.Bearing) geo.Bearing { return b * 180 / math.Pi }, "the logged headings are taken as radians, as the way driven says"},
	{func(b geo.Bearing) geo.Bearing { return 90 - b }, "the logged headings are taken as degrees counter-clockwise from east, as the way driven says"},
	{func(b geo.Bearing) geo.Bearing { return 90 - b*180/math.Pi }, "the logged headings are taken as radians counter-clockwise from east, as the way driven says"},
}

// compassOf holds the headings of all tracks against the way driven. All but the first is said:
//
//  1. Headings along the way are read as logged, and so are those of few ways.
//  2. Those along it by another reading are read so.
//  3. Those neither along it nor against it, and one and the same heading on ways to all sides, are none.
//  4. Those against it are read as logged: a set may be driven backwards.
func compassOf(tracks []geo.Track) (compass, []geo.Finding) {
	var all headed
	source, still, first := "", true, math.NaN()
	for _, t := range tracks {
		if t.Fixes() == 0 || t.Heading == nil || t.Course || t.Columns.Fits(t.Fixes()) != nil {
			continue
		}
		source = cmp.Or(source, t.Source)
		all = all.with(t)
		for _, b := range t.Heading {
			if math.IsNaN(first) {
				first = float64(b)
			}
			still = still && !(math.Abs(math.Remainder(float64(b)-first, 360)) > compassStill)
		}
	}
	ahead, back := all.along(asLogged)
	if len(all) < compassLeast || ahead >= compassAhead {
		return asLogged, nil
	}
	say := func(format string, args ...any) []geo.Finding {
		return []geo.Finding{{File: source, What: fmt.Sprintf(format, args...)}}
	}
	for _, c := range otherCompasses {
		if ahead, _ := all.along(c.read); ahead >= compassOther {
			return c.read, say("%s", c.words)
		}
	}
	if ahead+back < compassAhead || still {
		return nil, say("the logged headings point ahead on %.0f %% of the way: they are no bearings in degrees, and the way is used instead", 100*ahead)
	}
	return asLogged, say("by the logged headings the set was driven backwards on %.0f %% of the way: if it was not, they are turned by 180°", 100*back)
}

// headed is the bearing of a chord of the way driven, and the heading that is logged in its middle.
type headed []struct{ driven, logged geo.Bearing }

// with adds those of a track: chords of its unbroken parts, end to end.
func (h headed) with(t geo.Track) headed {
	from := 0
	for _, end := range t.Line.Ends() {
		to := end / t.Line.Stride()
		for k := from; k < to; k++ {
			a, b := pointOf(t, from), pointOf(t, k)
			east, north := (b[0]-a[0])*geo.MetresPerDegree*math.Cos(a[1]*math.Pi/180), (b[1]-a[1])*geo.MetresPerDegree
			if math.Hypot(east, north) < compassChord {
				continue
			}
			off, logged := math.Atan2(east, north)*180/math.Pi, t.Heading[(from+k)/2]
			if !math.IsNaN(off + float64(logged)) {
				h = append(h, struct{ driven, logged geo.Bearing }{geo.Bearing(off), logged})
			}
			from = k
		}
		from = to
	}
	return h
}

// along are the parts of the courses on which headings point ahead and back.
func (h headed) along(read compass) (ahead, back float64) {
	for _, one := range h {
		switch off := math.Abs(math.Remainder(float64(read(one.logged)-one.driven), 360)); {
		case off < 45:
			ahead++
		case off > 135:
			back++
		}
	}
	n := float64(len(h))
	return ahead / n, back / n
}
