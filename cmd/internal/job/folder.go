package job

import (
	"context"
	"encoding/json"
	"errors"
	"io"

	"balk/cmd/internal/folder"
	"balk/coverage"
	"balk/export/sheet"
	"balk/export/sheet/paper"
	"balk/export/vector"
)

// The files of a result folder beside the layers.
const (
	mapFile    = "map.svg"
	reportFile = folder.Report
)

// targets are names of files that a job writes into its folder.
type targets struct {
	sure    []string // these in any case
	perhaps []string // these if there is something to put into them
}

// layers are the names of those of a checked operation.
func (s Spec) layers() []string {
	return vector.LayersWith(s.Work.Sweeps.Known(), len(s.Implement.Bars) > 0)
}

// checkedNames are those of the files of a checked operation.
func (s Spec) checkedNames() []string {
	var names []string
	for _, l := range s.layers() {
		names = append(names, l+".geojson")
	}
	return append(names, mapFile, reportFile)
}

// Placed says what a job put into its folder.
type Placed struct {
	Files  []string         `json:"files,omitempty"`  // written, in order
	Folder *folder.Manifest `json:"folder,omitempty"` // all that balk has in the folder, by content
}

// output is one file of a result folder; its name may lie in a folder below.
type output struct {
	name  string
	write func(io.Writer) error
	place func(ctx context.Context, path string) error // instead of write: for formats that need a file of their own
}

// faulty is a file that cannot be made.
func faulty(name string, err error) output {
	return output{name: name, write: func(io.Writer) error { return err }}
}

// write puts the result into the folder.
func (r *Report) write(ctx context.Context, c coverage.Result, call *Call) error {
	var files []output
	for _, layer := range vector.LayersIn(c) {
		files = append(files, output{name: layer + ".geojson", write: func(w io.Writer) error { return vector.Write(w, layer, c) }})
	}
	files = append(files, r.Spec.Pictures.drawing(mapFile, func() (*paper.Leaf, error) { return sheet.Map(c, r.Spec.page()) })...)
	return call.fill(ctx, r.Spec.Out, "check", files, &r.Placed, func(w io.Writer) error { return r.JSON(w) })
}

// fill puts files and a report into a folder, and says in the report which they are: see folder.Fill.
// Where single files could not be made the others are there, and the error names those.
func (c *Call) fill(ctx context.Context, out, verb string, files []output, placed *Placed, report func(io.Writer) error) error {
	result := folder.Result{Verb: verb, Report: func(w io.Writer, m folder.Manifest) error {
		placed.Files, placed.Folder = m.Paths(out), &m
		return report(w)
	}}
	for _, f := range files {
		result.Files = append(result.Files, folder.File{Name: f.name, Write: f.write, Place: f.place})
	}
	m, err := folder.Fill(ctx, out, result, c.say)
	if _, some := errors.AsType[*folder.Unwritten](err); err != nil && !some {
		*placed = Placed{}
		return called(err)
	}
	placed.Folder = &m
	return err
}

// JSON writes the report, the same for the terminal, the folder and the page.
func (r Report) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		Report
	}{madeBy(), r})
}

// indented writes v as JSON for people too.
func indented(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
