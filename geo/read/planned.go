package read

import (
	"fmt"
	"io"
	"slices"

	"balk/geo"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
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
	collection, err := geojson.UnmarshalFeatureCollection(text)
	if err != nil {
		return nil, nil, err
	}
	var lines []geo.Line
	var findings []geo.Finding
	for i, f := range collection.Features {
		line, ok := f.Geometry.(orb.LineString)
		if !ok || len(line) < 2 || !allOnEarth(line) {
			findings = append(findings, geo.Finding{File: file, Record: i + 1, Lost: true, What: "no line of two or more places on earth: left out of the plan"})
			continue
		}
		name, _ := f.Properties["name"].(string)
		if name == "" {
			name = fmt.Sprintf("line %d", i+1)
		}
		lines = append(lines, geo.Line{Name: name, Line: line})
	}
	if len(lines) == 0 {
		return nil, nil, fmt.Errorf("%d features, none of them a line", len(collection.Features))
	}
	return lines, findings, nil
}

func allOnEarth(line orb.LineString) bool {
	return !slices.ContainsFunc(line, func(p orb.Point) bool { return !geo.OnEarth(p[0], p[1]) })
}
