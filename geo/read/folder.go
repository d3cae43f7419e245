package read

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"

	"balk/geo"
)

// folderTracks reads the tracks of all files in a folder and the folders in it,
// in the order of their names. Files that are no tracks are findings; names that
// begin with a point are passed over, and so are the parts of a shapefile beside
// its .shp. A folder without one usable fix is an error.
func folderTracks(dir string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	var names []string
	var findings []geo.Finding
	shapes := map[string]bool{} // by path without extension, in lower case
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if name := d.Name(); path != dir && (strings.HasPrefix(name, ".") || name == "__MACOSX") {
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if d.IsDir() {
			return o.Files.enter(path)
		}
		if d.Type()&^fs.ModeSymlink != 0 {
			findings = append(findings, geo.Finding{File: path, What: "no ordinary file: left out", Lost: true})
			return nil
		}
		names = append(names, path)
		if ext := filepath.Ext(path); strings.EqualFold(ext, ".shp") {
			shapes[strings.ToLower(strings.TrimSuffix(path, ext))] = true
		}
		return nil
	})
	if err != nil {
		return nil, nil, fmt.Errorf("read: %w", err)
	}
	var tracks []geo.Track
	var first error
	for _, path := range names {
		ext := filepath.Ext(path)
		if e := strings.ToLower(ext); shapeParts[e] && shapes[strings.ToLower(strings.TrimSuffix(path, ext))] {
			continue
		}
		t, f, err := fileTracks(path, o)
		if call, ok := errors.AsType[*CallError](err); ok {
			return nil, nil, call
		}
		findings = append(findings, f...)
		if err != nil {
			if first == nil {
				first = err
			}
			findings = append(findings, geo.Finding{File: path, What: lossText(err), Lost: true})
			continue
		}
		tracks = append(tracks, t...)
	}
	switch {
	case len(tracks) > 0:
		return tracks, findings, nil
	case first != nil:
		return nil, nil, fmt.Errorf("%s: no track in any of its %d files: %w", dir, len(names), first)
	}
	return nil, nil, &CallError{dir + ": the folder has no files in it"}
}

// shapeParts are the extensions of files that belong to a .shp.
var shapeParts = map[string]bool{".dbf": true, ".shx": true, ".prj": true, ".cpg": true, ".sbn": true, ".sbx": true, ".qix": true, ".qpj": true}
