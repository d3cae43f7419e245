package sheet

import (
	"bytes"
	"context"
	"fmt"
	"image/png"
	"math"
	"regexp"
	"strings"
	"testing"

	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/export/words"
	"balk/geo/plane"
)

// trailedSet is a set of 6 m on a drawbar of 4 m.
func trailedSet() rig.Implement {
	return rig.Implement{
		Name: `Sweeps & "tines", 6 m`, Width: 6, Overlap: 0.1,
		Mount:   rig.Mount{Trailed: true, AntennaAhead: 1, Hitch: 2.2, Drawbar: 4, BarBehind: 0.5, MaxAngle: 70},
		Tractor: rig.Tractor{Ahead: 3.8, Behind: 0.8, Width: 2.5},
		Body:    rig.Body{Ahead: 1.5, Behind: 1.2, Wheels: 3},
		Turning: rig.Turning{Radius: 6, Speed: 6, Margin: 0.5},
	}
}

func mountedSet() rig.Implement {
	return rig.Implement{
		Width: 3, Overlap: 0.1, Mount: rig.Mount{AntennaAhead: 1, Hitch: 2.2, BarBehind: 1},
		Tractor: rig.Tractor{Ahead: 3.8, Behind: 0.8, Width: 2.5}, Body: rig.Body{Ahead: 0.8, Behind: 1.2},
		Turning: rig.Turning{Radius: 5, Speed: 6, ReverseSpeed: 4, Change: 3, Margin: 0.5},
	}
}

// planned is a turn judged on a straight headland, or in the field given.
func planned(t *testing.T, k turn.Kind, im rig.Implement, l turn.Line, headland float64, field []plane.Polygon) TurnPlan {
	t.Helper()
	p := TurnPlan{Implement: im, Line: l, Headland: headland, Boundary: field}
	if field == nil {
		place := func(ahead, left float64) plane.XY {
			sin, cos := math.Sincos(float64(l.From.Heading))
			return plane.XY{X: l.From.At.X + cos*ahead - sin*left, Y: l.From.At.Y + sin*ahead + cos*left}
		}
		field = []plane.Polygon{{{place(-500, -500), place(-500, 500), place(headland, 500), place(headland, -500)}}}
	}
	r, err := turn.NewRoom(field)
	if err != nil {
		t.Fatal(err)
	}
	if p.Turn, err = turn.Judge(context.Background(), k, l, im, r); err != nil {
		t.Fatal(err)
	}
	if p.Ground, err = p.Turn.Driven.Swept(context.Background()); err != nil {
		t.Fatal(err)
	}
	return p
}

func drawnTurn(t *testing.T, name string, p TurnPlan) string {
	t.Helper()
	l, err := Turn(p, Page{})
	if err != nil {
		t.Fatal(err)
	}
	return svgOf(t, name, l)
}

// turnPlans are turns of all sorts: with drawbar and without, in reverse, that fit and do not, into a farther row, in a field.
func turnPlans(t *testing.T) map[string]TurnPlan {
	third := planned(t, turn.Forward, trailedSet(), turn.Line{Distance: 17.7, Left: true}, 25, nil)
	third.Turn.Skip = 2
	slanting := []plane.Polygon{{{{X: -60, Y: -60}, {X: 60, Y: -60}, {X: 60, Y: 34}, {X: -60, Y: 14}}, {{X: 12, Y: 8}, {X: 12, Y: 11}, {X: 15, Y: 11}, {X: 15, Y: 8}}}}
	return map[string]TurnPlan{
		"trailed bulb that fits":                             planned(t, turn.Bulb, trailedSet(), turn.Line{From: turn.Pose{Heading: 0.4}, Distance: 5.9, Left: true}, 25, nil),
		"trailed bulb that is short":                         planned(t, turn.Bulb, trailedSet(), turn.Line{Distance: 5.9}, 18, nil),
		"trailed fishtail":                                   planned(t, turn.Fishtail, trailedSet(), turn.Line{Distance: 5.9, Left: true}, 25, nil),
		"mounted fishtail":                                   planned(t, turn.Fishtail, mountedSet(), turn.Line{Distance: 2.9, Left: true}, 14, nil),
		"trailed plain U at a slanting boundary with a pole": planned(t, turn.Forward, trailedSet(), turn.Line{From: turn.Pose{Heading: math.Pi / 2}, Distance: 11.8, Stagger: 1.97}, 0, slanting),
		"into the third row":                                 third,
	}
}

// TestDrawingOfAFartherRow: the words are those of the row that the turn leads into.
func TestDrawingOfAFartherRow(t *testing.T) {
	s := drawnTurn(t, "third row", turnPlans(t)["into the third row"])
	for _, want := range []string{">3rd row<", "rows 5.90 m apart", "into the 3rd row, 17.70 m off", "2 left for later"} {
		if !strings.Contains(s, want) {
			t.Errorf("lacks %q", want)
		}
	}
	if strings.Contains(s, "next row") || strings.Contains(s, "17.70 m apart") {
		t.Error("speaks of the next row")
	}
	for skip, want := range map[int]string{0: "next row", 1: "2nd row", 2: "3rd row", 3: "4th row", 10: "11th row", 12: "13th row", 20: "21st row", 110: "111th row"} {
		if got := RowInto(words.English, skip); got != want {
			t.Errorf("%d left for later: %q, want %q", skip, got, want)
		}
	}
}

func TestTurnDrawingShowsWhatDecides(t *testing.T) {
	plans := turnPlans(t)
	for _, c := range []struct {
		name      string
		want, not []string
	}{
		{"trailed bulb that fits",
			[]string{"can be driven", "needed 23.58 m", "spare 1.42 m", "headland 25.00 m", "cuts in 1.43 m", "drawbar 52° of 70°", "overhead lines", "tracks of its wheels", "Sweeps &amp; &#34;tines&#34;, 6 m, row 5.90 m off: bulb"},
			[]string{"cannot be driven", "in reverse;"}},
		{"trailed bulb that is short",
			[]string{"cannot be driven", "short by 5.58 m", "short 5.58 m"}, []string{"in reverse;"}},
		{"mounted fishtail",
			[]string{"can be driven", "2 changes", ">1<", ">2<", "in reverse;"}, []string{"cuts in", "greatest drawbar angle"}},
		{"trailed plain U at a slanting boundary with a pole",
			[]string{"beyond the boundary, obstacles", "next row"}, []string{"headland 0"}},
	} {
		s := drawnTurn(t, c.name, plans[c.name])
		for _, want := range c.want {
			if !strings.Contains(s, want) {
				t.Errorf("%s lacks %q", c.name, want)
			}
		}
		for _, not := range c.not {
			if strings.Contains(s, not) {
				t.Errorf("%s has %q", c.name, not)
			}
		}
		if len(s) > 80_000 {
			t.Errorf("%s takes %d bytes", c.name, len(s))
		}
	}
}

func TestNoDrawingWithoutAPath(t *testing.T) {
	if l, err := Turn(TurnPlan{Implement: trailedSet()}, Page{}); err == nil || l != nil {
		t.Errorf("error %v, a leaf %v", err, l != nil)
	}
}

// TestTurnDrawingIsToScale: moved and turned, the drawing says the same and is to the same scale, and the way out of the rows
// is up; the dimension of the depth needed is as long as the scale says.
func TestTurnDrawingIsToScale(t *testing.T) {
	at := turn.Line{Distance: 5.9, Left: true}
	here := planned(t, turn.Bulb, trailedSet(), at, 25, nil)
	at.From = turn.Pose{At: plane.XY{X: 300, Y: -120}, Heading: 2.3}
	there := planned(t, turn.Bulb, trailedSet(), at, 25, nil)
	scale := 0.0
	for _, p := range []TurnPlan{here, there} {
		drawn, err := newPicture(Page{}, "", "")
		if err != nil {
			t.Fatal(err)
		}
		d := layTurn(drawn, p)
		a, b := d.at(d.place(0, 0)), d.at(d.place(0, p.Turn.Depth))
		if want := p.Turn.Depth * d.mm(); math.Abs(a[1]-b[1]-want) > 1e-6 || math.Abs(a[0]-b[0]) > 1e-6 {
			t.Errorf("%.3f m are %.3f mm upwards and %.3f to the side, want %.3f and 0", p.Turn.Depth, a[1]-b[1], a[0]-b[0], want)
		}
		upright := regexp.MustCompile(`stroke-width="0.3" d="M(\S+) (\S+)L(\S+) (\S+)"`).FindStringSubmatch(drawnTurn(t, "dimension", p)) // the first is that of the depth
		if long := number(t, upright[2]) - number(t, upright[4]); upright[1] != upright[3] || math.Abs(long-p.Turn.Depth*d.mm()) > 0.02 {
			t.Errorf("the dimension of %.3f m is %.2f mm long, want %.2f", p.Turn.Depth, long, p.Turn.Depth*d.mm())
		}
		if scale != 0 && d.denominator != scale {
			t.Errorf("1 : %g here, 1 : %g there", scale, d.denominator)
		}
		scale = d.denominator
		if math.Abs(d.tall+p.Implement.Turning.Margin-p.Turn.Depth) > 1e-9 {
			t.Errorf("drawn %.4f m beyond the line, judged %.4f m", d.tall+0.5, p.Turn.Depth)
		}
	}
	if drawnTurn(t, "here", here) != drawnTurn(t, "here again", here) {
		t.Error("two drawings of one turn differ")
	}
}

// Ground beyond the boundary, and obstacles, have dots, the field has none: as dots of a picture too, which counts how often
// rings go round a place.
func TestTurnDrawingHasTheFieldFree(t *testing.T) {
	p := turnPlans(t)["trailed plain U at a slanting boundary with a pole"]
	p.Boundary[0][0] = plane.Ring{{X: -60, Y: -60}, {X: 60, Y: -60}, {X: 60, Y: 12}, {X: -60, Y: 12}} // so near that the turn passes it
	l, err := Turn(p, Page{})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := l.PNG(&b, 100); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	drawn, err := newPicture(Page{}, "", "")
	if err != nil {
		t.Fatal(err)
	}
	d := layTurn(drawn, p)
	dark := func(right, beyond float64) (n int) { // dots of 8 mm × 8 mm around a place that are neither white nor the map's colour
		at := d.at(d.place(right, beyond))
		for x := -4.0; x <= 4; x += 0.25 {
			for y := -4.0; y <= 4; y += 0.25 {
				if r, _, _, _ := img.At(int((at[0]+x)*100/25.4), int((at[1]+y)*100/25.4)).RGBA(); r>>8 < 0xE0 {
					n++
				}
			}
		}
		return n
	}
	at := d.at(d.place(-4, 4))
	if r, g, blue, _ := img.At(int(at[0]*100/25.4), int(at[1]*100/25.4)).RGBA(); fmt.Sprintf("#%02X%02X%02X", r>>8, g>>8, blue>>8) != mapColour {
		t.Errorf("within the field %02X%02X%02X: must be %s", r>>8, g>>8, blue>>8, mapColour)
	}
	if n := dark(-4, 4); n > 0 {
		t.Errorf("%d dark dots within the field", n)
	}
	if n := dark(-4, 17); n < 20 {
		t.Errorf("%d dark dots beyond the boundary", n)
	}
}

// TestWhyNot: a reason is said in the language of the page, with its numbers, whatever the English of the turn says.
func TestWhyNot(t *testing.T) {
	judged := turn.Turn{Spare: -1.25, Angle: 71.5, AngleLimit: 60, EntryAngle: 4.5}
	for reason, want := range map[turn.Reason]string{
		turn.Short:  "es fehlen 1,25 m",
		turn.Folds:  "Deichselwinkel 71,5°: höchstens 60,0°",
		turn.Swings: "schwingt nicht aus: das Gerät kommt mit 4,5°",
		turn.NoGear: "fährt rückwärts",
	} {
		one := judged
		one.Reason, one.Why = reason, "worded otherwise"
		if reason == turn.NoGear {
			one.Why = "reverses: the trailed set may not be pushed backwards"
		}
		if got := WhyNot(words.German, one); !strings.Contains(got, want) {
			t.Errorf("reason %d: %q, want %q in it", reason, got, want)
		}
	}
}
