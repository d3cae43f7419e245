package read

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"balk/geo"

	"github.com/paulmach/orb"
)

// guidanceName is the layer of planned lines where balk writes several layers into one file.
const guidanceName = "guidance"

// Lines reads planned lines from a file of any format that has lines: those that balk compare writes, and others. They
// are named as in the file, else by their number in it. What else is in the file is a finding. Errors: the file cannot be
// read, or holds no line.
func Lines(path string, t Taking, files *Files) ([]geo.Line, []geo.Finding, error) {
	lines, findings, err := plannedLines(path, t, files)
	if err != nil {
		return nil, nil, fmt.Errorf("plan: %w", err)
	}
	return lines, findings, nil
}

func plannedLines(path string, t Taking, files *Files) ([]geo.Line, []geo.Finding, error) {
	s, err := files.source(path, false)
	if err != nil {
		return nil, nil, err
	}
	defer s.Close()
	if s.format == geopackageFormat && !slices.Contains(t.Layers, guidanceName) { // beside the ways with the tool lifted, in the package of a plan
		t.Layers = append(slices.Clone(t.Layers), guidanceName)
	}
	tracks, findings, err := s.tracks(TrackOptions{planned: true, Taking: t, Files: files})
	if fault, ok := errors.AsType[*FileError](err); ok && fault.other {
		return nil, nil, &FileError{File: s.file, What: "no planned line in it"}
	}
	if err != nil {
		return nil, nil, err
	}
	var lines []geo.Line
	for i, track := range tracks {
		from := 0
		for _, end := range track.Line.Ends() {
			line := lineOf(track.Line.FlatCoords()[from:end])
			if from = end; track.Came.Points || len(line) < 2 {
				findings = append(findings, geo.Finding{File: s.file, Record: track.Record(i), Lost: true, What: "no line of two or more places on earth: left out of the plan"})
				continue
			}
			lines = append(lines, geo.Line{Name: cmp.Or(track.Name, fmt.Sprintf("line %d", len(lines)+1)), Line: line})
		}
	}
	if len(lines) == 0 {
		return nil, nil, &FileError{File: s.file, What: "no planned line in it"}
	}
	return lines, findings, nil
}

// lineOf is a way of fixes: longitude, latitude, time and so on.
func lineOf(flat []float64) orb.LineString {
	line := make(orb.LineString, 0, len(flat)/3)
	for i := 0; i < len(flat); i += 3 {
		line = append(line, orb.Point{flat[i], flat[i+1]})
	}
	return line
}

// isoGuidance gives the guidance patterns (GPN) of all part fields of a set of task data as tracks. A name that begins with
// that of its group, as balk writes it, is given without.
func isoGuidance(fsys fs.FS, name, file string) ([]geo.Track, []geo.Finding, error) {
	d, err := openTaskData(fsys, name, file)
	if err != nil {
		return nil, nil, err
	}
	var tracks []*growing
	var none values
	for _, f := range d.fields {
		for _, group := range f.Guidance {
			for _, p := range group.Patterns {
				g := &growing{name: cmp.Or(strings.TrimPrefix(p.Designator, group.Designator+" "), p.Designator)}
				for _, l := range p.Lines {
					ring, err := isoRingOf(l)
					if err != nil {
						d.notes.count(0, true, fmt.Sprintf("guidance pattern %q: %v", clip(p.Designator), err))
						continue
					}
					for _, q := range ring {
						g.add(q[0], q[1], &none)
					}
				}
				tracks = append(tracks, g)
			}
		}
	}
	return finishTracks(tracks, &d.notes, &stateJudge{}, nil, "planned lines are guidance patterns (GPN)", false)
}
