package read

import (
	"io"
	"io/fs"

	"balk/geo"
)

// Readers of tracks without options, for tests.

func tracksOf(path string) ([]geo.Track, []geo.Finding, error) { return Tracks(path, TrackOptions{}) }

func geoJSONTracks(r io.Reader, file string) ([]geo.Track, []geo.Finding, error) {
	return GeoJSONTracks(r, file, TrackOptions{})
}

func gpxTracks(r io.Reader, file string) ([]geo.Track, []geo.Finding, error) {
	return GPXTracks(r, file, TrackOptions{})
}

func kmlTracks(r io.Reader, file string) ([]geo.Track, []geo.Finding, error) {
	return KMLTracks(r, file, TrackOptions{})
}

func tracksInZip(r io.ReaderAt, size int64, file string) ([]geo.Track, []geo.Finding, error) {
	return zipTracks(&source{at: r, size: size, file: file}, TrackOptions{})
}

func shapefileTracks(fsys fs.FS, name, file string) ([]geo.Track, []geo.Finding, error) {
	return ShapefileTracks(fsys, name, file, TrackOptions{})
}

func isoxmlTracks(fsys fs.FS, name, file string) ([]geo.Track, []geo.Finding, error) {
	return ISOXMLTracks(fsys, name, file, TrackOptions{})
}

func geoPackageTracks(file string) ([]geo.Track, []geo.Finding, error) {
	return geopackageTracks(&source{file: file, path: file}, TrackOptions{})
}
