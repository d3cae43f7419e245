package sheet

import (
	"fmt"
	"io"

	"balk/coverage"
	"balk/coverage/ground"
	"balk/coverage/plan"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// PlanPicture is one plan among several that are compared.
type PlanPicture struct {
	Number  int // rank, from 1
	Found   plan.Found
	Bearing float64 // degrees from true north, 0 to 180
}

// Layout of the plans in pixels: cells of two in a row.
const (
	planCell  = 540
	planMap   = 380 // height of a cell's map
	planTexts = 186 // height of what is written below it
	planCurve = 60  // height of the curve by direction
	planCols  = 2
)

// PlansSVG draws plans side by side, the best first: passes, rounds, turns and
// those that do not fit, with the figures that tell them apart.
func PlansSVG(w io.Writer, title string, plans []PlanPicture) error {
	if len(plans) == 0 {
		return fmt.Errorf("no plan to draw")
	}
	rows := (len(plans) + planCols - 1) / planCols
	const width = margin + planCols*(planCell+margin)
	height := 62 + rows*(planMap+planTexts+margin) + 14 + 15*len(wrap(turnCaution, 150)) + margin
	d := &drawing{}
	d.text(margin, 40, 21, `font-weight="bold"`, shorten(title+": plans compared, the best first", 88))
	for i, p := range plans {
		f, err := newFrame(coverage.Result{Layers: ground.Layers{Field: p.Found.Plan.Field}})
		if err != nil {
			return err
		}
		x, y := float64(margin+i%planCols*(planCell+margin)), 62+float64(i/planCols*(planMap+planTexts+margin))
		d.plan(f, x, y, p)
	}
	y := 62 + float64(rows*(planMap+planTexts+margin)) + 14
	fmt.Fprintf(d, `<path d="M%d %.1fh26" stroke="#8A7A4A" stroke-width="1.2"/>`+"\n", margin, y-4)
	d.text(margin+36, y, 12, "", "pass")
	fmt.Fprintf(d, `<path d="M%d %.1fh26" stroke="#27364A" stroke-width="0.9"/>`+"\n", margin+90, y-4)
	d.text(margin+126, y, 12, "", "turn or way with the tool lifted")
	d.tightTurn(orb.Point{margin + 353, y - 4})
	d.text(margin+366, y, 12, "", "a turn or run that does not fit")
	for _, line := range wrap(turnCaution, 150) {
		y += 15
		d.text(margin, y, 10.5, `fill="#333333"`, line)
	}
	return document(w, width, float64(height), title, patterns, d.take())
}

// plan draws one plan into a cell.
func (d *drawing) plan(f frame, x, y float64, p PlanPicture) {
	box := plane.EmptyBox()
	for _, poly := range p.Found.Plan.Field {
		box = box.Extend(poly[0]...)
	}
	size := box.Max.Sub(box.Min)
	const pad = 10
	f.scale = min((planCell-2*pad)/size.X, (planMap-2*pad)/size.Y)
	f.x0, f.y0 = x+planCell/2, y+planMap/2
	d.frame = f
	fmt.Fprintf(d, `<rect x="%.1f" y="%.1f" width="%d" height="%d" fill="#F7F7F4" stroke="#BBBBBB"/>`+"\n", x, y, planCell, planMap)
	d.area("field", p.Found.Plan.Field, `fill="#E3CF9B" fill-rule="evenodd"`)
	// dense passes are drawn thinner, so that they stay lines
	thick := min(1.2, 0.3*(p.Found.Plan.Implement.Width-p.Found.Plan.Implement.Overlap)*d.scale)
	d.lines(fmt.Sprintf(`stroke="#8A7A4A" stroke-width="%.2f"`, max(thick, 0.2)), len(p.Found.Plan.Passes), func(i int) []plane.XY { return p.Found.Plan.Passes[i].Line })
	d.lines(`stroke="#27364A" stroke-width="0.9"`, len(p.Found.Plan.Moves), func(i int) []plane.XY { return p.Found.Plan.Moves[i].Line })
	for _, poly := range p.Found.Plan.Field {
		for _, hole := range poly[1:] {
			d.area("obstacle", []plane.Polygon{{hole}}, `fill="url(#obstacle)" stroke="#222222" stroke-width="1.2"`)
		}
	}
	d.area("boundary", p.Found.Plan.Field, `fill="none" stroke="#222222" stroke-width="1.4"`)
	for _, m := range p.Found.Plan.Moves {
		if m.Fault != nil {
			d.tightTurn(d.pixel(m.Fault.At))
		}
	}
	c := p.Found.Candidate
	y += planMap + 18
	name := c.Name
	if name == "" {
		name = fmt.Sprintf("%.2f m", c.Width)
	}
	d.text(x, y, 14, `font-weight="bold"`, shorten(fmt.Sprintf("%d. %s", p.Number, name), 60))
	for _, line := range []string{
		fmt.Sprintf("rows at %.0f°, %d headland rounds, %d passes, %d turns, %d turns and runs that do not fit", p.Bearing, c.Rounds, c.Passes, c.Turns, len(c.Infeasible)),
		fmt.Sprintf("%.2f h, %.2f ha/h, field efficiency %.0f %%", c.Hours, c.Capacity*0.36, 100*c.Share),
		fmt.Sprintf("missed %s ha, twice or more %s ha, headland %.1f %% of the field", Hectares(c.Missed), Hectares(c.Double), 100*c.HeadlandShare),
		c.Difference,
	} {
		y += 18
		d.text(x, y, 12, "", shorten(line, 82))
	}
	d.curve(x, y+12, p)
}

// curve draws the estimated objective by direction, the direction taken marked.
func (d *drawing) curve(x, y float64, p PlanPicture) {
	c := p.Found.Curve
	if len(c) < 2 {
		return
	}
	low, high := c[0].Value, c[0].Value
	for _, s := range c {
		low, high = min(low, s.Value), max(high, s.Value)
	}
	at := func(direction, value float64) (float64, float64) {
		return x + 150 + direction/180*(planCell-160), y + planCurve - 14 - (value-low)/max(high-low, 1e-12)*(planCurve-22)
	}
	d.text(x, y+14, 10.5, `fill="#333333"`, "by direction (estimate):")
	d.text(x, y+30, 10.5, `fill="#333333"`, fmt.Sprintf("%.2f to %.2f", low, high))
	fmt.Fprintf(d, `<path fill="none" stroke="#27364A" stroke-width="1.1" d="`)
	for i, s := range c {
		px, py := at(s.Direction, s.Value)
		letter := "L"
		if i == 0 {
			letter = "M"
		}
		fmt.Fprintf(d, "%s%.1f %.1f", letter, px, py)
	}
	d.WriteString("\"/>\n")
	for _, degrees := range []float64{0, 45, 90, 135, 180} {
		px, _ := at(degrees, low)
		fmt.Fprintf(d, `<path d="M%.1f %.1fv3" stroke="#777777"/>`+"\n", px, y+planCurve-12)
		d.text(px, y+planCurve+2, 9.5, `text-anchor="middle" fill="#333333"`, fmt.Sprintf("%.0f°", degrees))
	}
	px, _ := at(p.Bearing, low)
	fmt.Fprintf(d, `<path d="M%.1f %.1fV%.1f" stroke="#C2247F" stroke-width="1.2"/>`+"\n", px, y+2, y+planCurve-12)
}

// lines draws n open lines as one path.
func (d *drawing) lines(style string, n int, line func(i int) []plane.XY) {
	fmt.Fprintf(d, `<path fill="none" %s d="`, style)
	for i := range n {
		pts := make(orb.LineString, 0, len(line(i)))
		for _, q := range line(i) {
			pts = append(pts, d.pixel(q))
		}
		if len(pts) > 1 {
			d.line(thin(pts), false)
		}
	}
	d.WriteString("\"/>\n")
}
