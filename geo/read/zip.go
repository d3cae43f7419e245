package read

import (
	"archive/zip"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"balk/geo"
)

// Limits on a zip, against one that unpacks to more than any computer holds.
const (
	maxUnpacked = 4 << 30  // bytes of all files together
	maxRatio    = 200      // bytes out for a byte in, above ratioFrom: of one file and of all
	ratioFrom   = 16 << 20 // bytes: a small file of zeros is harmless
	mostFolders = 100      // in each other: listing all of them takes memory with the square of their number
)

// Unpacked is the most that a zip of so many bytes may unpack to, bytes of all its files together.
func Unpacked(size int64) int64 { return min(maxUnpacked, max(ratioFrom, maxRatio*size)) }

// Grown is the error of a zip of size bytes that unpacks to more than it may: to out, as far as it was looked at.
func Grown(size int64, out uint64) error {
	return fmt.Errorf("%d bytes unpack to %d or more: the limit is %d to 1, and %d", size, out, maxRatio, int64(maxUnpacked))
}

// zipFields reads the field boundaries of all files in a zip, in the order of their names.
func zipFields(s *source, o Options) ([]geo.Field, []geo.Finding, error) {
	b, names, err := openZip(s)
	if err != nil {
		return nil, nil, err
	}
	if slices.Contains(names, workbookName) {
		return workbookFields(b, s.file, o)
	}
	fields, findings, err := zipped(s, b, names, o.Taking, o.Files, false, func(s *source) ([]geo.Field, []geo.Finding, error) { return s.fields(o) })
	for i := range fields {
		fields[i].Number = i + 1
	}
	return fields, findings, err
}

// zipTracks reads the tracks of all files in a zip, in the order of their names.
func zipTracks(s *source, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	b, members, err := openZip(s)
	if err != nil {
		return nil, nil, err
	}
	if slices.Contains(members, workbookName) {
		return workbookTracks(b, s.file, o)
	}
	var names, held []string
	untimed, timed := false, false
	tracks, findings, err := zipped(s, b, members, o.Taking, o.Files, len(o.Columns) > 0 || o.CRS != 0, func(inner *source) ([]geo.Track, []geo.Finding, error) {
		tracks, findings, err := inner.tracks(o)
		if err == nil {
			has := slices.ContainsFunc(tracks, hasTimes)
			timed, untimed = timed || has, untimed || !has
			names, held = append(names, inner.name), append(held, trackWords(tracks))
		}
		return tracks, findings, err
	})
	// Files of a zip are logs of one job, as those of a folder are; but what has no times beside logs that have is something else.
	if timed && untimed && len(o.Layers) == 0 && !o.planned {
		return nil, nil, o.severalLayers(s.file, "tracks, some with times and some without", names, held)
	}
	return tracks, findings, err
}

// legendOfShapefiles is the list of column names that balk packs beside shapefiles.
const legendOfShapefiles = "names.txt"

// zipped gives what read finds in all files of a zip. A file that cannot be used is a finding; where nothing else came
// the first such error is that of the zip.
func zipped[T any](outer *source, b *budgetFS, names []string, t Taking, files *Files, named bool, read func(s *source) ([]T, []geo.Finding, error)) ([]T, []geo.Finding, error) {
	if wanted, chosen := t.named(files, names); chosen {
		names = wanted
	}
	var all []T
	var findings []geo.Finding
	var first error
	var strange []string // files of no format that is read
	for _, name := range names {
		s := &source{fsys: b, name: name, file: outer.file + "/" + name, wrapped: outer.wrapped + 1}
		got, found, err := member(s, named, read)
		all, findings = append(all, got...), append(findings, found...)
		if errors.Is(err, errBudget) {
			return nil, nil, &FileError{File: outer.file, Err: errBudget}
		}
		fault, _ := errors.AsType[*FileError](err)
		if fault != nil && fault.strange && !dataNames[strings.ToLower(path.Ext(name))] {
			if path.Base(name) != legendOfShapefiles {
				strange = append(strange, name)
			}
			continue
		}
		if err != nil {
			if _, own := errors.AsType[*OwnError](err); first == nil || own { // it says more than that one is empty
				first = err
			}
			loss := lossOf(s.file, err)
			if fault != nil && fault.other {
				loss.Lost = false
			}
			findings = append(findings, loss)
		}
	}
	switch {
	case len(all) > 0:
		if len(strange) > 0 {
			findings = append(findings, geo.Finding{File: outer.file, What: "not of a format read here, passed over: " + listed(strange)})
		}
		return all, findings, nil
	case first != nil:
		return nil, nil, first
	}
	return nil, nil, &FileError{File: outer.file, What: fmt.Sprintf("no file that is read here among its %d files", len(names)), Hint: formatHint}
}

// member reads one file of a zip.
func member[T any](s *source, named bool, read func(s *source) ([]T, []geo.Finding, error)) ([]T, []geo.Finding, error) {
	f, err := s.fsys.Open(s.name)
	if err != nil {
		return nil, nil, fmt.Errorf("read %s: %w", s.file, err)
	}
	defer f.Close()
	s.from = f
	if err := s.unwrap(named); err != nil {
		return nil, nil, err
	}
	return read(s)
}

// dataNames are the extensions of files that are meant to be read: one of another format is a loss.
var dataNames = map[string]bool{".shp": true, ".kml": true, ".kmz": true, ".geojson": true, ".json": true, ".ndjson": true, ".geojsonl": true, ".gpkg": true, ".gpx": true, ".nmea": true, ".csv": true, ".tsv": true, ".fgb": true, ".xlsx": true, ".pos": true, ".zip": true, ".gz": true}

// openZip lists the files of a zip that may hold something: not those that belong to a shapefile, to task data, or to the
// folder in which a system keeps its own.
func openZip(s *source) (*budgetFS, []string, error) {
	if s.wrapped > maxWrapped {
		return nil, nil, &FileError{File: s.file, What: fmt.Sprintf("it is wrapped more than %d times", maxWrapped)}
	}
	z, err := zip.NewReader(s.at, s.size)
	if err != nil {
		return nil, nil, &FileError{File: s.file, What: "no zip", Err: err}
	}
	left := Unpacked(s.size)
	var total uint64
	for _, f := range z.File {
		f.Name = strings.ReplaceAll(f.Name, `\`, "/") // as some systems write it, against the rules of a zip
		if deep := strings.Count(f.Name, "/"); deep > mostFolders {
			return nil, nil, &FileError{File: s.file, What: fmt.Sprintf("a file in it lies %d folders deep: the limit is %d", deep, mostFolders)}
		}
		out := f.UncompressedSize64
		if total += out; total > uint64(left) || out > uint64(left) {
			return nil, nil, &FileError{File: s.file, Place: f.Name, What: Grown(s.size, max(total, out)).Error()}
		}
	}
	var names []string
	var tasks []string
	shapes := map[string]bool{}
	stem := func(name string) string { return strings.ToLower(strings.TrimSuffix(name, path.Ext(name))) }
	err = fs.WalkDir(z, ".", func(name string, d fs.DirEntry, err error) error {
		hidden := name != "." && err == nil && (d.Name() == "__MACOSX" || strings.HasPrefix(d.Name(), "."))
		switch {
		case err != nil:
			return err
		case d.IsDir() && hidden:
			return fs.SkipDir
		case d.IsDir() || hidden:
			return nil
		case isTaskDataName(name):
			tasks = append(tasks, path.Dir(name))
		case strings.EqualFold(path.Ext(name), ".shp"):
			shapes[stem(name)] = true
		}
		names = append(names, name)
		return nil
	})
	if err != nil {
		return nil, nil, &FileError{File: s.file, What: "no zip", Err: err}
	}
	names = slices.DeleteFunc(names, func(name string) bool {
		return shapeParts[strings.ToLower(path.Ext(name))] && shapes[stem(name)] || !isTaskDataName(name) && slices.Contains(tasks, path.Dir(name))
	})
	return &budgetFS{zip: z, left: left}, names, nil
}

var errBudget = errors.New("the zip unpacks to more bytes than it says")

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
	const encrypted = 1 // bit of the flags of a file, APPNOTE 4.4.4
	if st, err := f.Stat(); err == nil {
		if h, ok := st.Sys().(*zip.FileHeader); ok && h.Flags&encrypted != 0 {
			f.Close()
			return nil, errors.New("it is encrypted: unpack it with its password, and give what comes out")
		}
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
