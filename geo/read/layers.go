package read

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"balk/geo"
	"balk/geo/crs"
)

// Taking says how a file is taken where it leaves that open. It is the same for fields and tracks.
type Taking struct {
	// Layers are the names of the layers that are read of a file that has some of these names: tables of a GeoPackage,
	// folders of a KML, sheets of a workbook, files in a zip. Where a file has several layers that could be meant, and none of the names, it
	// is refused.
	Layers []string `json:"layers,omitempty"`
	// CRS is the code of the EPSG dataset of the system of files that name none; 0: they are taken as longitude and latitude.
	CRS int `json:"crs,omitempty"`
}

// unnamed is the system of a file that names none; nil: longitude and latitude on WGS84.
func (t Taking) unnamed(notes *tally) (crs.Projection, error) {
	if t.CRS == 0 || t.CRS == 4326 {
		return nil, nil
	}
	p, err := crs.FromEPSG(t.CRS)
	if err != nil {
		return nil, &CallError{fmt.Sprintf("--crs %d: %v", t.CRS, err)}
	}
	notes.add(0, nil, false, takenAs+p.Name())
	note(notes, p)
	return p, nil
}

const takenAs = "it names no coordinate system: taken as "

// known says whether there is a system of the code that the call names. It is a fault of the call even where no file needs it.
func (t Taking) known() error {
	if t.CRS == 0 || t.CRS == 4326 {
		return nil
	}
	if _, err := crs.FromEPSG(t.CRS); err != nil {
		return &CallError{fmt.Sprintf("--crs %d: %v", t.CRS, err)}
	}
	return nil
}

// Unused says, of the findings of all files of a call, that none of them is in the system which the call names; nil: one is, or none is named.
func (t Taking) Unused(findings []geo.Finding) *geo.Finding {
	if t.CRS == 0 || t.CRS == 4326 || slices.ContainsFunc(findings, func(f geo.Finding) bool { return strings.HasPrefix(f.What, takenAs) }) {
		return nil
	}
	return &geo.Finding{What: fmt.Sprintf("--crs %d is not used: places in these files are longitude and latitude, or in a system that the file names", t.CRS)}
}

// named gives the layers of a file that are named, if any is. names are all it has.
func (t Taking) named(files *Files, names []string) (wanted []string, chosen bool) {
	for _, name := range names {
		for _, want := range t.Layers {
			base := path.Base(name)
			if strings.EqualFold(name, want) || strings.EqualFold(base, want) || strings.EqualFold(strings.TrimSuffix(base, path.Ext(base)), want) {
				files.meet(want)
				if !slices.Contains(wanted, name) {
					wanted = append(wanted, name)
				}
			}
		}
	}
	return wanted, len(wanted) > 0
}

// mostListed is how many layers are told one by one.
const mostListed = 10

// severalLayers refuses a file in which several layers could be meant. held says how much is in each.
func (t Taking) severalLayers(file, what string, names, held []string) error {
	var b strings.Builder
	for i, name := range names {
		if more := len(names) - i; i == mostListed && more > 1 {
			fmt.Fprintf(&b, "\n  and %d more", more)
			break
		}
		fmt.Fprintf(&b, "\n  %s  (%s)", name, held[i])
	}
	named := "and none is chosen"
	if len(t.Layers) > 0 {
		named = fmt.Sprintf("none of them called %s", listed(t.Layers))
	}
	return &CallError{fmt.Sprintf("%s holds %d layers of %s, %s (--layer NAME):%s", file, len(names), what, named, b.String())}
}

func (f *Files) meet(layer string) {
	if f == nil {
		return
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if !slices.Contains(f.met, layer) {
		f.met = append(f.met, layer)
	}
}

// Unmet gives the first of some layers that was in none of the files opened; "": there is none such.
func (f *Files) Unmet(layers []string) string {
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, l := range layers {
		if !slices.Contains(f.met, l) {
			return l
		}
	}
	return ""
}

// countOf is a number of things, in words.
func countOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
