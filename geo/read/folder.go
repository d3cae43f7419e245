package read

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"

	"balk/geo"
)

// folderTracks reads the tracks of all files in a folder and the folders in it,
// in the order of their names. Files that are no tracks are findings; names that
// begin with a point are passed over, and so are the parts of a shapefile beside
// its .shp. A folder without one usable fix is an error.
func folderTracks(dir string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	names, all, findings, err := Below(dir, o.Files)
	if err != nil {
		return nil, nil, fmt.Errorf("read: %w", err)
	}
	var tracks []geo.Track
	var first error
	var failed []geo.Finding
	var results []string          // folders that balk filled
	var reports []map[string]bool // what it wrote there
	for _, path := range names {
		t, f, err := fileTracks(path, o)
		if call, ok := errors.AsType[*CallError](err); ok {
			return nil, nil, call
		}
		findings = append(findings, f...)
		if err == nil {
			tracks = append(tracks, t...)
			continue
		}
		if first == nil {
			first = err
		}
		if Settings(path) {
			continue // a set or settings beside logs are where they belong, and no log that could not be read
		}
		if written, ok := reportOf(path); ok {
			results = append(results, filepath.Dir(path)+string(filepath.Separator))
			reports = append(reports, written)
		}
		failed = append(failed, lossOf(path, err))
	}
	for _, f := range failed { // may be replaced by the next result
		in := slices.IndexFunc(results, func(dir string) bool { return strings.HasPrefix(f.File, dir) })
		if !f.Lost || in >= 0 && reports[in][filepath.Base(f.File)] {
			o.Files.forget(f.File)
		}
	}
	tracks, beside := withoutStates(tracks)
	for _, f := range beside {
		for _, path := range names {
			if f.File == path || strings.HasPrefix(f.File, path+"/") {
				o.Files.forget(path)
			}
		}
	}
	findings = append(withoutResults(append(findings, failed...), results), beside...)
	switch {
	case len(tracks) > 0:
		return tracks, findings, nil
	case first != nil:
		return nil, nil, fmt.Errorf("%s: no track in any of its %d files: %w", dir, all, first)
	}
	return nil, nil, &CallError{dir + ": the folder has no files in it"}
}

// Below are the files in a folder and the folders in it that may be tracks, in the order of their names; all is
// how many there are with the parts of shapefiles. What cannot be listed or is no file is a finding.
func Below(dir string, files *Files) (names []string, all int, findings []geo.Finding, err error) {
	shapes := map[string]bool{} // by path without extension, in lower case
	stem := func(path string) string { return strings.ToLower(strings.TrimSuffix(path, filepath.Ext(path))) }
	err = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		hidden := path != dir && err == nil && (strings.HasPrefix(d.Name(), ".") || d.Name() == "__MACOSX")
		switch {
		case err != nil && path != dir:
			findings = append(findings, geo.Finding{File: path, What: "cannot be listed: left out", Lost: true})
			return fs.SkipDir
		case err != nil:
			return err
		case hidden && d.IsDir():
			return fs.SkipDir
		case hidden:
			return nil
		case d.IsDir():
			return files.enter(path)
		case d.Type()&^fs.ModeSymlink != 0:
			findings = append(findings, geo.Finding{File: path, What: "no ordinary file: left out", Lost: true})
			return nil
		}
		names = append(names, path)
		if strings.EqualFold(filepath.Ext(path), ".shp") {
			shapes[stem(path)] = true
		}
		return nil
	})
	all = len(names)
	return slices.DeleteFunc(names, func(path string) bool {
		return shapeParts[strings.ToLower(filepath.Ext(path))] && shapes[stem(path)]
	}), all, findings, err
}

// shapeParts are the extensions of files that belong to a .shp.
var shapeParts = map[string]bool{".dbf": true, ".shx": true, ".prj": true, ".cpg": true, ".sbn": true, ".sbx": true, ".qix": true, ".qpj": true}

// withoutResults makes one finding for each folder of results of those on its files that are no tracks: layers, pictures
// and papers.
func withoutResults(findings []geo.Finding, results []string) (out []geo.Finding) {
	names := make([][]string, len(results))
	for _, f := range findings {
		in := slices.IndexFunc(results, func(dir string) bool { return strings.HasPrefix(f.File, dir) })
		if in < 0 || !strings.HasPrefix(f.What, "left out") && !strings.HasPrefix(f.What, ownBegins) {
			out = append(out, f)
			continue
		}
		if name := strings.TrimPrefix(f.File, results[in]); !slices.Contains(names[in], name) {
			names[in] = append(names[in], name)
		}
	}
	for i, n := range names {
		if len(n) > 0 {
			out = append(out, geo.Finding{File: results[i], What: ownBegins + ": what is no track in it is passed over: " + strings.Join(n, ", ")})
		}
	}
	return out
}

// withoutStates leaves out balk's own states where there are other logs: in a folder of logs they are those of an
// earlier check, and nobody has named them.
func withoutStates(tracks []geo.Track) (kept []geo.Track, findings []geo.Finding) {
	if !slices.ContainsFunc(tracks, func(t geo.Track) bool { return !t.Came.States }) {
		return tracks, nil
	}
	said := map[string]bool{}
	for _, t := range tracks {
		if !t.Came.States {
			kept = append(kept, t)
		} else if !said[t.Source] {
			said[t.Source] = true
			findings = append(findings, geo.Finding{File: t.Source, What: ownBegins + " (layer \"states\") beside the logs: left out; give it alone to have it counted"})
		}
	}
	return kept, findings
}
