package web

import (
	"fmt"
	"maps"
	"net/http"
	"strings"

	"github.com/paulmach/orb"
)

// Seen is what was seen at a place of a spot check, with what balk spots plan asked to be looked at there.
type Seen struct {
	Cut      string     `json:"cut,omitempty"`      // yes, no, or nobody looked
	Ribs     string     `json:"ribs,omitempty"`     // as in a table of spot checks: m from the left : cm wide
	Depth    string     `json:"depth,omitempty"`    // cm, as there
	At       *orb.Point `json:"at,omitempty"`       // lon, lat of who looked; nil = the place as it was drawn
	Accuracy float64    `json:"accuracy,omitempty"` // m, of At
	Why      string     `json:"why,omitempty"`
	Pass     int        `json:"pass,omitempty"`
	Section  int        `json:"section,omitempty"`
	Strip    int        `json:"strip,omitempty"`
	FromLeft float64    `json:"fromLeft,omitempty"` // m
	Length   float64    `json:"length,omitempty"`   // m
}

// mostSeen is how long a text of what was seen may be: the ribs of a wide bar are some dozen.
const mostSeen = 1000

func (c Seen) validate(number int) error {
	if c.Cut != "" && c.Cut != "yes" && c.Cut != "no" {
		return fmt.Errorf("place %d: cut %.20q: must be yes or no", number, c.Cut)
	}
	if len(c.Ribs) > mostSeen || len(c.Depth) > mostSeen || len(c.Why) > mostSeen {
		return fmt.Errorf("place %d: a text of more than %d bytes", number, mostSeen)
	}
	return nil
}

// spotsFile is the file of spot checks beside a file of notes.
func spotsFile(notes string) string { return strings.TrimSuffix(notes, ".json") + "-spots.geojson" }

// points are features of GeoJSON (RFC 7946), each a point.
type points struct {
	Type     string  `json:"type"`
	Features []point `json:"features"`
}

type point struct {
	Type     string `json:"type"`
	Geometry struct {
		Type        string    `json:"type"`
		Coordinates orb.Point `json:"coordinates"`
	} `json:"geometry"`
	Properties map[string]any `json:"properties"`
}

// spotChecks are the notes at places where something was seen, as balk spots read takes them.
func spotChecks(all []Note) points {
	out := points{Type: "FeatureCollection"}
	for _, n := range all {
		if n.Kind != "place" || n.Seen == nil || n.Seen.Cut == "" && n.Seen.Ribs == "" && n.Seen.Depth == "" {
			continue
		}
		c := *n.Seen
		at := n.At
		p := map[string]any{"id": n.Number, "time": n.When}
		if c.At != nil {
			at = *c.At
			p["accuracy_m"] = c.Accuracy
		}
		texts := map[string]string{"cut": c.Cut, "ribs_cm": c.Ribs, "depth_cm": c.Depth, "why": c.Why, "note": n.Note}
		maps.DeleteFunc(texts, func(_, text string) bool { return text == "" })
		for name, text := range texts {
			p[name] = text
		}
		for name, number := range map[string]int{"pass": c.Pass, "section": c.Section, "strip": c.Strip} {
			if number > 0 {
				p[name] = number
			}
		}
		if c.Length > 0 {
			p["from_left_m"], p["length_m"] = c.FromLeft, c.Length
		}
		f := point{Type: "Feature", Properties: p}
		f.Geometry.Type, f.Geometry.Coordinates = "Point", at
		out.Features = append(out.Features, f)
	}
	return out
}

// keepSeen writes what was seen at places beside the notes, where anything was.
func keepSeen(notes string, all []Note) error {
	if checks := spotChecks(all); len(checks.Features) > 0 {
		return written(spotsFile(notes), checks)
	}
	return nil
}

// seenAt is the file of what was seen at places of the operation of a request.
func seenAt(s *shelf, r *http.Request) (string, error) {
	path, err := s.notesPath(r)
	if err != nil {
		return "", err
	}
	if file := spotsFile(path); exists(file) {
		return file, nil
	}
	return "", errNotThere
}
