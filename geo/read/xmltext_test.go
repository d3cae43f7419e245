package read

import (
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
