package read

import (
	"encoding/xml"
	"fmt"
	"math"

	"balk/geo"
)

// gxTrack is a gx:Track as read: lists beside each other.
type gxTrack struct {
	when    []float64
	coord   [][2]float64
	heading []float64
	arrays  []*gxArray
}

// gxArray is a list of values beside the positions of a gx:Track.
type gxArray struct {
	is     tableColumn
	values []float64
	states []geo.WorkState
}

// begin opens the array of values that an element names; nil for one without
// meaning.
func (t *gxTrack) begin(e xml.StartElement, line int, notes *tally, states *stateJudge) *gxArray {
	for _, a := range e.Attr {
		if a.Name.Local != "name" {
			continue
		}
		c := meaning(a.Value)
		if c.column = states.column([]byte(a.Value), c.column); c.column == stateColumn {
			c.title = a.Value
		}
		switch c.column {
		case stateColumn, headingColumn, courseColumn, hdopColumn, qualityColumn:
		case speedColumn, widthColumn:
			if c.unit == "" {
				notes.count(line, true, fmt.Sprintf("values %q say no unit: not used", clip(a.Value)))
				return nil
			}
		default:
			return nil
		}
		t.arrays = append(t.arrays, &gxArray{is: c})
		return t.arrays[len(t.arrays)-1]
	}
	return nil
}

// add takes in a value.
func (a *gxArray) add(text []byte, line int, notes *tally, states *stateJudge) {
	v := math.NaN()
	ok := true
	switch {
	case len(text) == 0 || isAbsent(text):
	case a.is.column == stateColumn:
		a.states = append(a.states, states.code(text, line))
		a.values = append(a.values, 0)
		return
	default:
		if x, _, _, number := decimal(text); number && a.is.column != qualityColumn {
			_, ok = columnNumber(a.is.column, x*a.is.factor)
			v = x * a.is.factor
		} else {
			v, _, ok = notes.columnText(a.is.column, text)
		}
	}
	if !ok {
		notes.countAs(line, true, "misread "+a.is.title, fmt.Sprintf("values %q: %s is not understood or out of range", clip(a.is.title), inQuotes(text)))
		v = math.NaN()
	}
	a.values = append(a.values, v)
	a.states = append(a.states, geo.StateUnknown)
}

// into adds the fixes of the track as a part of g. A list of another length than
// that of the positions cannot be told apart and is not used; where the file
// broke off it may be longer.
func (t *gxTrack) into(g *growing, p *placemark, notes *tally) {
	line := p.line
	n := len(t.coord)
	fits := func(what string, m int) bool {
		if p.cut && m > n {
			return true
		}
		if m != n && m > 0 {
			notes.count(line, true, fmt.Sprintf("%s of another number than the positions of a gx:Track: not used", what))
		}
		return m == n
	}
	when, heading := fits("times", len(t.when)), fits("headings", len(t.heading))
	var arrays []*gxArray
	for _, a := range t.arrays {
		if fits(fmt.Sprintf("values %q", clip(a.is.title)), len(a.values)) {
			arrays = append(arrays, a)
		}
	}
	for i, q := range t.coord {
		if q[0] == nowhere {
			notes.count(line, true, "a gx:Track has a position that is empty: left out")
			continue
		}
		var v values
		if when && !math.IsNaN(t.when[i]) {
			v.set(timeColumn, t.when[i])
		}
		if heading && !math.IsNaN(t.heading[i]) {
			v.set(headingColumn, t.heading[i])
		}
		for _, a := range arrays {
			switch {
			case a.is.column == stateColumn:
				v.set(stateColumn, float64(a.states[i]))
			case !math.IsNaN(a.values[i]):
				v.set(a.is.column, a.values[i])
			}
		}
		g.add(q[0], q[1], &v)
	}
	g.endPart()
}
