package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"embed"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
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

// demoFolder is that of the invented farm, in the folder of the page.
const demoFolder = "demo"

// invented is the call for the first field of the farm.
var invented = kept{"fields.geojson", []string{"track-pond.geojson"}, "sweep-mounted.toml", []string{"--rounds", "3"}}

// demo puts the first field of the invented farm on the shelf, once.
func (s *shelf) demo(ctx context.Context) (*source, error) {
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
