package sheet

import (
	"io"

	"balk/coverage"
)

// Layout of the sheet in pixels.
const (
	sheetWidth  = 1120
	margin      = 24
	panelWidth  = 340
	mapLeft     = margin
	mapWidth    = sheetWidth - 3*margin - panelWidth
	panelLeft   = mapLeft + mapWidth + margin
	mapTop      = 84
	labelGutter = 34 // left and right of the field, for strip numbers
	footGutter  = 46 // below the field, for scale bar
	minMap      = 300
	maxMap      = 860
	labelled    = 12 // strips that carry their number on the map
)

// residualLimit is the share of the field by which a balance may miss before no
// map is drawn of it (DESIGN: never a map).
const residualLimit = 1e-6

// SVG writes the map of r. It fails, and writes nothing, when the balance does
// not add up or the field has no extent.
func SVG(w io.Writer, r coverage.Result) error {
	if err := addsUp(r.Balance); err != nil {
		return err
	}
	f, err := newFrame(r)
	if err != nil {
		return err
	}
	d := &drawing{frame: f}
	d.worked(r)
	d.tightTurns(r)
	d.labels(r.Local, r.Strips)
	d.scaleBar()
	d.northArrow()
	mapBody := d.take()

	bottom := d.panel(r)
	panel := d.take()

	height := max(bottom, f.top+f.height) + margin
	return document(w, sheetWidth, height, heading(r, English), patterns+mapClip(f.height), mapBody, panel)
}

// patterns are the marks of DESIGN section 6. Each kind of ground differs from
// the others in lightness or in its pattern as well as in colour, so that a
// grey print can be read.
const patterns = `<defs>
<pattern id="twice" width="5" height="5" patternUnits="userSpaceOnUse"><rect width="5" height="5" fill="#5B7A99"/><path d="M0 5L5 0" stroke="#DCE5EE" stroke-width="0.7"/></pattern>
<pattern id="more" width="5" height="5" patternUnits="userSpaceOnUse"><rect width="5" height="5" fill="#27364A"/><path d="M0 5L5 0M0 0L5 5" stroke="#9FB2C8" stroke-width="0.6"/></pattern>
<pattern id="unknown" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#F2F2F2"/><path d="M0 0L6 6M-1 5L1 7M5 -1L7 1" stroke="#6F6F6F" stroke-width="1.1"/></pattern>
<pattern id="outside" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="#FFF4E3"/><path d="M0 6L6 0M-1 1L1 -1M5 7L7 5" stroke="#E08A1E" stroke-width="1.8"/></pattern>
<pattern id="obstacle" width="8" height="8" patternUnits="userSpaceOnUse"><rect width="8" height="8" fill="#FFFFFF"/><circle cx="2" cy="2" r="0.9" fill="#555555"/><circle cx="6" cy="6" r="0.9" fill="#555555"/></pattern>
</defs>
`
