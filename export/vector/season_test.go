package vector

import (
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"balk/coverage/drive"
	"balk/coverage/season"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// Two operations at right angles on 100 × 60 m: passes of 5 m with 1 m between them along it, passes of 4 m with 2 m between them across. The
// layers hold the ground: 50·68 m² worked twice, 50·32 + 10·68 once, 10·32 not at all, in 160 strips; the second cut all that it worked last.
func TestSeasonLayers(t *testing.T) {
	f := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 60)}}.Field()
	local := f.Local()
	monday := time.Date(2026, 4, 6, 12, 0, 0, 0, time.UTC)
	operation := func(name string, width float64, when time.Time, lines [][]plane.XY) season.Operation {
		w := drive.Work{Width: width, PassError: 0.04}
		log, err := drive.Read(t.Context(), f.OnPlane(local), local, []geo.Track{(trial.Sketch{Lines: lines}).Track()}, w, drive.AsJudged)
		if err != nil {
			t.Fatal(err)
		}
		return season.Operation{Name: name, Does: []season.Component{season.Cuts}, When: when, Runs: log.Runs, Work: w}
	}
	var along, across [][]plane.XY
	for k := range 10 {
		y := 2.5 + 6*float64(k)
		along = append(along, trial.Straight(plane.XY{X: 0, Y: y}, plane.XY{X: 100, Y: y}, 2))
	}
	for k := range 17 {
		x := 2 + 6*float64(k)
		across = append(across, trial.Straight(plane.XY{X: x, Y: 0}, plane.XY{X: x, Y: 60}, 2))
	}
	r, err := season.Of(t.Context(), f, []season.Operation{operation("A", 5, monday, along), operation("B", 4, monday.AddDate(0, 0, 10), across)}, 0)
	if err != nil {
		t.Fatal(err)
	}
	since := r.Since(season.Cuts, monday.AddDate(0, 0, 15))
	layers, err := SeasonLayers(t.Context(), &r, &since)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	sums := map[string]map[any]float64{} // by layer, and by the value of its label
	for _, l := range layers {
		if err := WriteGeoJSON(io.Discard, l); err != nil {
			t.Error(err)
		}
		names = append(names, l.Name)
		sums[l.Name] = map[any]float64{}
		label, area := -1, -1
		for i, c := range l.Columns {
			switch c.Name {
			case l.Label:
				label = i
			case "area_m2":
				area = i
			}
		}
		for _, one := range l.Features {
			by := one.Row[label]
			if l.Label == "strip" {
				by = "strips"
			}
			sums[l.Name][by] += one.Row[area].(float64)
			if one.Row[len(one.Row)-1] != l.Name {
				t.Fatalf("%s: no mark: %v", l.Name, one.Row)
			}
		}
	}
	if got := strings.Join(names, " "); got != "days_since_cut times_worked missed_by_all never_cuts" {
		t.Errorf("layers %s", got)
	}
	for layer, want := range map[string]map[any]float64{
		"days_since_cut": {5.0: 4080, 15.0: 1600},
		"times_worked":   {0: 320, 1: 2280, 2: 3400},
		"missed_by_all":  {"strips": 320},
		"never_cuts":     {"strips": 320},
	} {
		if len(sums[layer]) != len(want) {
			t.Errorf("%s: %v, want %v", layer, sums[layer], want)
		}
		for by, area := range want {
			if math.Abs(sums[layer][by]-area) > 1 { // drawn, and rounded to a hundredth for each piece
				t.Errorf("%s, %v: %.2f m², want %g m²", layer, by, sums[layer][by], area)
			}
		}
	}
	if n := len(layers[2].Features); n != 160 {
		t.Errorf("%d strips", n)
	}
	if layers, err = SeasonLayers(t.Context(), &r, nil); err != nil || layers[0].Name != "times_worked" {
		t.Errorf("without a day: %v, %v", layers[0].Name, err)
	}
}
