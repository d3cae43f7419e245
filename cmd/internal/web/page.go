package web

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"balk/cmd/internal/job"
	"balk/coverage"
	"balk/export/words"
)

//go:embed built
var built embed.FS

// static gives a file of the page; one that is packed stays so on the way.
func static(name, kind string) func(*shelf, http.ResponseWriter, *http.Request) error {
	return func(_ *shelf, w http.ResponseWriter, r *http.Request) error {
		text, err := built.ReadFile("built/" + name)
		if err != nil {
			return err
		}
		if strings.HasSuffix(name, ".gz") {
			if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
				w.Header().Set("Content-Encoding", "gzip")
			} else if text, err = unpacked(text); err != nil {
				return err
			}
		}
		w.Header().Set("Content-Type", kind)
		w.Header().Set("Content-Length", strconv.Itoa(len(text)))
		_, _ = w.Write(text) // who asked may be gone
		return nil
	}
}

func unpacked(text []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(z)
}

// WriteWhole writes the page with one operation in it, in one file that wants no server and asks for nothing from elsewhere.
func WriteWhole(w io.Writer, r job.Report, c coverage.Result, l words.Language) error {
	var ground bytes.Buffer
	if err := writeGround(&ground, c); err != nil {
		return err
	}
	j := judged{report: r, result: c, spec: r.Spec}
	data, err := json.Marshal(map[string]any{"lang": cmp.Or(string(l), string(words.English)), "words": pageWords(l), "view": viewOf("1", j, l), "ground": ground.Bytes()})
	if err != nil {
		return err
	}
	var texts []string
	for _, name := range []string{"page.html", "page.css", "page.js.gz"} {
		text, err := built.ReadFile("built/" + name)
		if err == nil && strings.HasSuffix(name, ".gz") {
			text, err = unpacked(text)
		}
		if err != nil {
			return err
		}
		texts = append(texts, string(text))
	}
	style, script := texts[1], strings.ReplaceAll(texts[2], "</script", `<\/script`)
	policy := fmt.Sprintf("default-src 'none'; script-src '%s'; style-src '%s'; img-src data: blob:; base-uri 'none'; form-action 'none'", hashed(script), hashed(style))
	_, err = strings.NewReplacer(
		`<link rel="icon" href="/icon.svg">`, `<meta http-equiv="Content-Security-Policy" content="`+policy+`">`,
		`<link rel="stylesheet" href="/page.css">`, "<style>"+style+"</style>",
		`<script src="/page.js" defer></script>`, "",
		`</body>`, `<script type="application/json" id="whole-data">`+string(data)+`</script><script>`+script+"</script></body>",
	).WriteString(w, texts[0])
	return err
}

// hashed is a text as a content security policy names it (W3C CSP 3, 2.3.1).
func hashed(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}

// demoFolder is that of the invented farm, in the folder of the page.
const demoFolder = "demo"

// invented is the call for the first field of the farm.
var invented = kept{Boundary: "fields.geojson", Tracks: []string{"track-pond.geojson"}, Implement: "sweep-mounted.toml", Weather: "weather.csv", Flags: []string{"--rounds", "3"}}

// demo puts the first field of the invented farm on the shelf, once.
func (s *shelf) demo(ctx context.Context) (*source, error) {
	s.inventing.Lock()
	defer s.inventing.Unlock()
	if one, err := s.source(demoFolder); err == nil {
		return one, nil
	}
	dir := filepath.Join(s.Keep, demoFolder)
	if err := os.MkdirAll(s.Keep, 0o755); err != nil {
		return nil, err
	}
	if err := s.Demo(ctx, dir); err != nil {
		return nil, err
	}
	return s.add(demoFolder, invented.args(dir), ""), nil
}
