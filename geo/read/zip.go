package read

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"strings"

	"balk/geo"
)

// Limits on a zip, against one that unpacks to more than any computer holds.
const (
	maxUnpacked = 4 << 30  // bytes of all files together
	maxRatio    = 500      // bytes out for a byte in, of a file above ratioFrom
	ratioFrom   = 16 << 20 // bytes: a small file of zeros is harmless
)

// ZipFields reads the field boundaries of all shapefiles, KML files and task data
// in a zip, in the order of their names. file is the name for messages.
func ZipFields(r io.ReaderAt, size int64, file string, o Options) ([]geo.Field, []geo.Finding, error) {
	fields, findings, err := zipped(r, size, file, func(s source) ([]geo.Field, []geo.Finding, error) { return s.fields(o) })
	for i := range fields {
		fields[i].Number = i + 1
	}
	return fields, findings, err
}

// ZipTracks reads the tracks of all shapefiles, KML files and task data in a zip,
// in the order of their names. file is the name for messages.
func ZipTracks(r io.ReaderAt, size int64, file string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	return zipped(r, size, file, func(s source) ([]geo.Track, []geo.Finding, error) { return s.tracks(o) })
}

// zipped gives what read finds in all files of a zip.
func zipped[T any](r io.ReaderAt, size int64, file string, read func(s source) ([]T, []geo.Finding, error)) ([]T, []geo.Finding, error) {
	var all []T
	findings, err := eachZipped(r, size, file, func(fsys fs.FS, name, file string) ([]geo.Finding, error) {
		s := source{format: shapeFormat, fsys: fsys, name: name, file: file}
		switch {
		case isTaskDataName(name):
			s.format = isoxmlFormat
		case isKML(name):
			f, err := fsys.Open(name)
			if err != nil {
				return nil, fmt.Errorf("read %s: %w", file, err)
			}
			defer f.Close()
			s.format, s.from = kmlFormat, f
		}
		got, findings, err := read(s)
		all = append(all, got...)
		return findings, err
	})
	if len(all) == 0 || errors.Is(err, errBudget) {
		return nil, nil, err
	}
	return all, findings, nil
}

func isKML(name string) bool { return strings.EqualFold(path.Ext(name), ".kml") }

// eachZipped reads every shapefile, KML file (a KMZ is a zip of one) and set of
// task data in a zip. One that cannot be used is a
// finding; the first such error is given as well, for when nothing else came.
func eachZipped(r io.ReaderAt, size int64, file string, read func(fsys fs.FS, name, file string) ([]geo.Finding, error)) ([]geo.Finding, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, &FileError{File: file, What: "no zip", Err: err}
	}
	var total uint64
	for _, f := range z.File {
		out := f.UncompressedSize64
		if total += out; total > maxUnpacked || out > maxUnpacked {
			return nil, &FileError{File: file, What: fmt.Sprintf("it unpacks to more than %d bytes, the limit is %d", max(total, out)-1, int64(maxUnpacked))}
		}
		if out > ratioFrom && out/maxRatio > f.CompressedSize64 {
			return nil, &FileError{File: file, Place: f.Name, What: fmt.Sprintf("%d bytes unpack to %d: the limit is %d to 1", f.CompressedSize64, out, maxRatio)}
		}
	}
	b := &budgetFS{zip: z, left: maxUnpacked}
	var names []string
	err = fs.WalkDir(z, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && d.Name() == "__MACOSX" {
			return fs.SkipDir
		}
		if !d.IsDir() && (strings.EqualFold(path.Ext(name), ".shp") || isKML(name) || isTaskDataName(name)) {
			names = append(names, name)
		}
		return nil
	})
	if err != nil {
		return nil, &FileError{File: file, What: "no zip", Err: err}
	}
	if len(names) == 0 {
		return nil, &FileError{File: file, What: fmt.Sprintf("no .shp, .kml or TASKDATA.XML among its %d files", len(z.File)), Hint: "put .shp, .dbf and .prj of the shapefile, a .kml, or the whole folder of the task data into the zip"}
	}
	var findings []geo.Finding
	var first error
	for _, name := range names {
		inside := file + "/" + name
		f, err := read(b, name, inside)
		findings = append(findings, f...)
		if err != nil {
			if _, own := errors.AsType[*OwnError](err); first == nil || own { // it says more than that one is empty
				first = err
			}
			if errors.Is(err, errBudget) {
				return findings, err
			}
			findings = append(findings, lossOf(inside, err))
		}
	}
	return findings, first
}

var errBudget = fmt.Errorf("the zip unpacks to more than %d bytes, the limit", int64(maxUnpacked))

// budgetFS counts what really comes out of a zip, whatever it declares.
type budgetFS struct {
	zip  *zip.Reader
	left int64
}

func (b *budgetFS) Open(name string) (fs.File, error) {
	f, err := b.zip.Open(name)
	if err != nil {
		return nil, err
	}
	if d, ok := f.(fs.ReadDirFile); ok {
		return d, nil
	}
	return &budgetFile{File: f, budget: b}, nil
}

type budgetFile struct {
	fs.File
	budget *budgetFS
}

func (f *budgetFile) Read(p []byte) (int, error) {
	n, err := f.File.Read(p)
	if f.budget.left -= int64(n); f.budget.left < 0 {
		return 0, errBudget
	}
	return n, err
}
