package folder

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Report is the file that lists the others of a result, and is the last of them.
const Report = "report.json"

// member is the member of the report that holds the list.
const member = "folder"

// mostReport is the longest report that is looked into, bytes: a longer one is not ours.
const mostReport = 1 << 30

// Manifest lists the files that balk wrote into a folder. It stands in the report as the member "folder".
type Manifest struct {
	Seal    string   `json:"seal"`    // SHA-256 of the report, with zeros for this value
	Results []Listed `json:"results"` // by verb, the latest first
}

// Listed are the files of one verb.
type Listed struct {
	Verb  string  `json:"verb"`
	Files []Entry `json:"files"` // but for the report
}

// Entry is one file, by its name in the folder, with slashes.
type Entry struct {
	Name string `json:"name"`
	Content
}

// Content tells one content from another.
type Content struct {
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// unsealed stands for the seal while it is worked out.
var unsealed = strings.Repeat("0", 2*sha256.Size)

// Paths are the files of the latest result as they are found from where dir is, the report last.
func (m Manifest) Paths(dir string) []string {
	var paths []string
	for _, e := range m.Results[0].Files {
		paths = append(paths, place(dir, e.Name))
	}
	return append(paths, place(dir, Report))
}

// with is the list after a run of a verb wrote files, which no other verb has any more.
func (m Manifest) with(verb string, files []Entry) Manifest {
	next := Manifest{Seal: unsealed, Results: []Listed{{verb, files}}}
	for _, r := range m.Results {
		if r.Verb == verb {
			continue
		}
		r.Files = slices.DeleteFunc(slices.Clone(r.Files), func(e Entry) bool {
			return slices.ContainsFunc(files, func(n Entry) bool { return n.Name == e.Name })
		})
		if len(r.Files) > 0 {
			next.Results = append(next.Results, r)
		}
	}
	return next
}

// of are the files that a verb listed.
func (m Manifest) of(verb string) []Entry {
	for _, r := range m.Results {
		if r.Verb == verb {
			return r.Files
		}
	}
	return nil
}

// entry is what is listed under a name, whichever verb wrote it.
func (m Manifest) entry(name string) (Content, bool) {
	for _, r := range m.Results {
		for _, e := range r.Files {
			if e.Name == name {
				return e.Content, true
			}
		}
	}
	return Content{}, false
}

// readManifest reads the list of a folder; own is the content of the report it stands in. There is none
// where the report is not there, is not ours, or was changed.
func readManifest(dir string) (m Manifest, own *Content, err error) {
	path := place(dir, Report)
	info, err := os.Lstat(path)
	if errors.Is(err, fs.ErrNotExist) || err == nil && (!info.Mode().IsRegular() || info.Size() > mostReport) {
		return Manifest{}, nil, nil
	}
	if err != nil {
		return Manifest{}, nil, err
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return Manifest{}, nil, err
	}
	var report struct {
		Folder *Manifest `json:"folder"`
	}
	if json.Unmarshal(text, &report) != nil || report.Folder == nil || !sealed(text, report.Folder.Seal) {
		return Manifest{}, nil, nil
	}
	for _, r := range report.Folder.Results {
		for _, e := range r.Files {
			if !filepath.IsLocal(filepath.FromSlash(e.Name)) {
				return Manifest{}, nil, fmt.Errorf("%s lists %q, which lies outside the folder", path, e.Name)
			}
		}
	}
	return *report.Folder, &Content{int64(len(text)), sum(text)}, nil
}

// seal gives the text of a report with its seal; text holds the seal of zeros.
func seal(text []byte) (sealed []byte, seal string, err error) {
	if !bytes.Contains(text, []byte(unsealed)) {
		return nil, "", fmt.Errorf("%s has no seal in its member %q", Report, member)
	}
	seal = sum(text)
	return bytes.Replace(text, []byte(unsealed), []byte(seal), 1), seal, nil
}

// sealed says whether a report is as it was written.
func sealed(text []byte, seal string) bool {
	return len(seal) == len(unsealed) && sum(bytes.Replace(text, []byte(seal), []byte(unsealed), 1)) == seal
}

func sum(text []byte) string {
	h := sha256.Sum256(text)
	return hex.EncodeToString(h[:])
}

// contentOf reads a file.
func contentOf(path string) (Content, error) {
	f, err := os.Open(path)
	if err != nil {
		return Content{}, err
	}
	defer f.Close()
	h := sha256.New()
	n, err := io.Copy(h, f)
	return Content{n, hex.EncodeToString(h.Sum(nil))}, err
}

// is says whether a file has this content. It is opened only if it is as long.
func (c Content) is(path string, info fs.FileInfo) (bool, error) {
	if !info.Mode().IsRegular() || info.Size() != c.Bytes {
		return false, nil
	}
	there, err := contentOf(path)
	return there == c, err
}

// place is where a file of the folder lies.
func place(dir, name string) string { return filepath.Join(dir, filepath.FromSlash(name)) }
