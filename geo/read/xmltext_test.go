package read

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestBrokenXMLInPlainWords: whatever is wrong with an XML text, nothing of what is said of it is in the words of the library that takes it apart.
func TestBrokenXMLInPlainWords(t *testing.T) {
	const head = `<?xml version="1.0"?><gpx><trk><trkseg>`
	for name, c := range map[string]struct{ text, want string }{
		"an attribute without quotes": {head + `<trkpt lat="48" lon=11></trkpt>`, "from here on it is no XML"},
		"elements not nested":         {head + `</trk></trkseg>`, "an element ends here that is not the last one to begin"},
		"an end without a begin":      {`<gpx></gpx></gpx>`, "an element ends here that is not the last one to begin"},
		"Latin 1 said by nobody":      {head + "<name>M\xfcller</name>", "letters here are no UTF-8, and the file names no other encoding"},
		"a letter without a name":     {head + "<name>&nosuch;</name>", "from here on it is no XML"},
		"cut off":                     {head + `<trkpt lat="48"`, "the file ends too early"},
		"an encoding of nowhere":      {`<?xml version="1.0" encoding="nowhere"?><gpx></gpx>`, `the encoding "nowhere" is not read`},
	} {
		_, _, err := gpxTracks(strings.NewReader(c.text), "x.gpx")
		if err == nil {
			t.Errorf("%s: read", name)
			continue
		}
		if s := err.Error(); !strings.Contains(s, c.want) || strings.Contains(s, "syntax") || strings.Contains(s, "xml:") || strings.Contains(s, "EOF") {
			t.Errorf("%s: %q, want %q", name, s, c.want)
		}
	}
}

// TestCutZipInPlainWords: a zip cut off anywhere has lost the list of its files, and no word of a library is said of it.
func TestCutZipInPlainWords(t *testing.T) {
	whole := zipOf(t, "field.geojson", []byte(`{"type":"FeatureCollection","features":[]}`))
	for _, n := range []int{30, len(whole) / 2, len(whole) - 1} {
		file := filepath.Join(t.TempDir(), "x.zip")
		if err := os.WriteFile(file, whole[:n], 0o600); err != nil {
			t.Fatal(err)
		}
		_, _, err := Fields(file, Options{})
		if want := file + ": no zip: the list of its files is missing or damaged; it stands at the end, so the end may be cut off"; err == nil || err.Error() != want {
			t.Errorf("%d bytes of %d: %v, want %s", n, len(whole), err, want)
		}
	}
}
