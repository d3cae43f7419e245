// Command page bundles the page of balk serve from its sources, for those who change them: `npm ci` in this folder, then
// `go generate ./cmd/internal/web`. It stands in a module of its own, so that whoever builds balk needs neither npm nor the bundler.
package main

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"log"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"github.com/evanw/esbuild/pkg/api"
)

// out is the folder of what is linked into balk, and of the licences of what is bundled with it.
const (
	out      = "../built"
	licences = "../licences"
)

func main() {
	if err := bundle(); err != nil {
		log.Fatal(err)
	}
}

func bundle() error {
	script := api.Build(api.BuildOptions{
		EntryPoints: []string{"src/main.ts"}, Bundle: true, Format: api.FormatIIFE, Target: api.ES2022, Charset: api.CharsetUTF8,
		MinifyWhitespace: true, MinifyIdentifiers: true, MinifySyntax: true, LegalComments: api.LegalCommentsNone, Metafile: true, LogLevel: api.LogLevelWarning,
	})
	style := api.Build(api.BuildOptions{EntryPoints: []string{"page.css"}, MinifyWhitespace: true, MinifySyntax: true, Charset: api.CharsetUTF8, LogLevel: api.LogLevelWarning})
	if len(script.Errors)+len(style.Errors) > 0 {
		return errors.New("not bundled")
	}
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := z.Write(script.OutputFiles[0].Contents); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	html, err := os.ReadFile("page.html")
	if err != nil {
		return err
	}
	icon, err := os.ReadFile("icon.svg")
	if err != nil {
		return err
	}
	sum, err := sources()
	if err != nil {
		return err
	}
	for name, text := range map[string][]byte{"page.js.gz": packed.Bytes(), "page.css": style.OutputFiles[0].Contents, "page.html": html, "icon.svg": icon, "sources.sha256": []byte(sum + "\n")} {
		if err := os.WriteFile(filepath.Join(out, name), text, 0o644); err != nil {
			return err
		}
	}
	fmt.Printf("page.js: %d bytes, %d packed\n", len(script.OutputFiles[0].Contents), packed.Len())
	return notices(script.Metafile)
}

// sources is the sum of all that the page is made from; a test of the room web works it out anew.
func sources() (string, error) {
	names, err := filepath.Glob("src/*.ts")
	if err != nil {
		return "", err
	}
	names = append(names, "page.html", "page.css", "icon.svg", "package.json", "package-lock.json")
	slices.Sort(names)
	h := sha256.New()
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(h, "%s %x\n", filepath.ToSlash(name), sha256.Sum256(text))
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

var (
	ofPackage = regexp.MustCompile(`^node_modules/((?:@[^/]+/)?[^/]+)/`)
	notice    = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice)`)
)

// notices copies the licence of every package of which something is in the bundle.
func notices(metafile string) error {
	var meta struct {
		Outputs map[string]struct {
			Inputs map[string]struct {
				BytesInOutput int `json:"bytesInOutput"`
			} `json:"inputs"`
		} `json:"outputs"`
	}
	if err := json.Unmarshal([]byte(metafile), &meta); err != nil {
		return err
	}
	if err := os.RemoveAll(licences); err != nil {
		return err
	}
	done := map[string]bool{}
	for _, o := range meta.Outputs {
		for input, in := range o.Inputs {
			m := ofPackage.FindStringSubmatch(input)
			if m == nil || in.BytesInOutput == 0 || done[m[1]] {
				continue
			}
			done[m[1]] = true
			if err := copyNotices(m[1]); err != nil {
				return err
			}
		}
	}
	return nil
}

func copyNotices(name string) error {
	dir := filepath.Join("node_modules", filepath.FromSlash(name))
	text, err := os.ReadFile(filepath.Join(dir, "package.json"))
	if err != nil {
		return err
	}
	var p struct {
		Version string `json:"version"`
	}
	if err := json.Unmarshal(text, &p); err != nil {
		return err
	}
	to := filepath.Join(licences, strings.ReplaceAll(name, "/", "+")+"@"+p.Version)
	if err := os.MkdirAll(to, 0o755); err != nil {
		return err
	}
	files, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	n := 0
	for _, f := range files {
		if f.IsDir() || !notice.MatchString(f.Name()) {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			return err
		}
		n++
		if err := os.WriteFile(filepath.Join(to, f.Name()), text, 0o644); err != nil {
			return err
		}
	}
	if n == 0 {
		return fmt.Errorf("%s: no licence in its folder", name)
	}
	return nil
}
