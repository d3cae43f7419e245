package read

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"

	"balk/geo"

	"github.com/paulmach/orb"
)

// maxPlan is the largest plan read; a longer file is something else.
const maxPlan = 64 << 20 // bytes

// Lines reads planned lines from GeoJSON: LineStrings, named by their property
// "name", else by their number in the file. Other features are findings. Errors:
// the file cannot be opened, is no feature collection, or holds no line.
func Lines(path string, files *Files) ([]geo.Line, []geo.Finding, error) {
	f, err := files.Open(path)
	if err != nil {
		return nil, nil, fmt.Errorf("plan: %w", err)
	}
	defer f.Close()
	lines, findings, err := plannedLines(path, f)
	if err != nil {
		return nil, nil, fmt.Errorf("plan %s: %w", path, err)
	}
	return lines, findings, nil
}

func plannedLines(file string, r io.Reader) ([]geo.Line, []geo.Finding, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxPlan+1))
	if err != nil {
		return nil, nil, err
	}
	if len(text) > maxPlan {
		return nil, nil, fmt.Errorf("over %d bytes: no plan of a field", maxPlan)
	}
	doc, cut, err := splitGeoJSON(bytes.NewReader(text))
	switch {
	case err != nil:
		return nil, nil, err
	case cut != nil:
		return nil, nil, cut
	case len(doc.features) == 1 && doc.features[0].whole:
		return nil, nil, errors.New("no FeatureCollection")
	}
	var lines []geo.Line
	var findings []geo.Finding
	for i, part := range doc.features {
		f, err := scanFeature(part.raw, part.whole, part.bare)
		line, ok := f.line()
		if err != nil || !ok {
			findings = append(findings, geo.Finding{File: file, Record: i + 1, Lost: true, What: "no line of two or more places on earth: left out of the plan"})
			continue
		}
		name := ""
		for _, c := range f.row {
			if c.column == "name" {
				name = c.text
			}
		}
		lines = append(lines, geo.Line{Name: cmp.Or(name, fmt.Sprintf("line %d", i+1)), Line: line})
	}
	if len(lines) == 0 {
		return nil, nil, fmt.Errorf("%d features, none of them a line", len(doc.features))
	}
	return lines, findings, nil
}

// line is the one LineString that a feature is; false: it is something else, too short, or not on earth.
func (s *featureScan) line() (orb.LineString, bool) {
	if len(s.shapes) != 1 || s.shapes[0].kind != "LineString" || s.shapes[0].fault() != nil || len(s.shapes[0].lists) != 1 {
		return nil, false
	}
	line := s.shapes[0].lists[0].points
	return line, len(line) >= 2 && !slices.ContainsFunc(line, func(p orb.Point) bool { return !geo.OnEarth(p[0], p[1]) })
}
