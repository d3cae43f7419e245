package read

import (
	"os"

	"balk/geo"
)

func notYet(path string) error {
	return &FileError{File: path, What: "shapefiles are not read yet", Hint: "convert it to GeoJSON"}
}
func shapeFields(path string, o Options) ([]geo.Field, []geo.Finding, error) {
	return nil, nil, notYet(path)
}
func shapeTracks(path string) ([]geo.Track, []geo.Finding, error) { return nil, nil, notYet(path) }
func zipFields(path string, f *os.File, o Options) ([]geo.Field, []geo.Finding, error) {
	return nil, nil, notYet(path)
}
func zipTracks(path string, f *os.File) ([]geo.Track, []geo.Finding, error) {
	return nil, nil, notYet(path)
}
