package sheet

import (
	"strings"
	"testing"

	"balk/coverage/rig"
	"balk/export/words"
)

// yard is a frame of 13 sweeps of 30 cm on three beams, 25 cm apart.
func yard() rig.Implement {
	return rig.Implement{Name: "Frame & legs", Width: 3.3, Sweeps: rig.Layout{Count: 13, Spacing: 0.25, Width: 0.3, Worn: 0.27, Angle: 70, Beams: []float64{0, 0.7, 1.4}}}
}

func TestSweepsDrawing(t *testing.T) {
	dense := yard()
	dense.Sweeps.Count, dense.Sweeps.Spacing, dense.Width = 120, 0.06, 7.44
	gaps := yard()
	gaps.Sweeps.LeftOut = []int{4, 10}
	for name, c := range map[string]struct {
		im   rig.Implement
		axle float64
		page Page
		want []string
		not  string
	}{
		"a frame with laps": {yard(), 2, Page{}, []string{"straight ahead", "everything is cut; the thinnest lap is 5.0 cm, between 1 and 2",
			"turned 3.1° to the right of its way", "in ribbons, the widest", "With worn sweeps", "2.0°", missedMark.Fill, twiceMark.Fill}, ""},
		"in German":                   {yard(), 2, Page{Language: words.German}, []string{"geradeaus", "Mit verschlissenen Scharen", "2,0°"}, "cut"},
		"wheels without sweeps":       {gaps, 0, Page{}, []string{"in ribbons, the widest 20.0 cm between 3 and 4"}, ""},
		"too many numbers for a line": {dense, 0, Page{}, []string{">10<", ">20<"}, ">11<"},
		"one sweep":                   {rig.Implement{Width: 0.3, Sweeps: rig.Layout{Count: 1, Width: 0.3, Beams: []float64{0}}}, 0, Page{}, []string{"everything is cut"}, "thinnest lap is"},
	} {
		l, err := Sweeps(SweepsPlan{Implement: c.im, Axle: c.axle}, c.page)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		svg := svgOf(t, name, l)
		for _, want := range c.want {
			if !strings.Contains(strings.ToLower(svg), strings.ToLower(want)) {
				t.Errorf("%s: no %q", name, want)
			}
		}
		if c.not != "" && strings.Contains(svg, c.not) {
			t.Errorf("%s: %q", name, c.not)
		}
		for _, line := range l.Lines() {
			if b := line.Box; b.X < 0 || b.Y < 0 || b.X+b.W > l.Width || b.Y+b.H > l.Height {
				t.Errorf("%s: %q lies off the page", name, line.Words)
			}
		}
	}
	if _, err := Sweeps(SweepsPlan{Implement: rig.Implement{Width: 3}}, Page{}); err == nil {
		t.Error("no layout, and no error")
	}
}
