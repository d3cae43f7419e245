package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"balk/cmd/internal/folder"
	"balk/cmd/internal/job"
	"balk/export/words"
	"balk/geo"
)

// languageName is that of the language in a query.
const languageName = "lang"

// hasteName is that of a value in a query that leaves out what going back wins.
const hasteName = "haste"

// route is one thing that can be asked of the server; the description of its interface is made from these.
type route struct {
	method, path string
	about        string
	params       []param
	takes        string // media type of what comes with the request; "" = nothing
	gives        string // media type of the answer; "" = none
	form         any    // a value of the type that the answer has as JSON; nil = said elsewhere
	handle       func(*shelf, http.ResponseWriter, *http.Request) error
}

// param is a value in the query.
type param struct{ name, about string }

var (
	language    = param{languageName, "language of what people read: en or de"}
	haste       = param{hasteName, "1: without what going back wins, which takes longest"}
	supposition = param{"FLAG", "a flag of balk check with its value, such as width=8: how it would be then"}
)

// routes gives each route its handler.
func routes(s *shelf) http.Handler {
	mux := http.NewServeMux()
	for _, r := range table {
		mux.HandleFunc(r.method+" "+r.path, func(w http.ResponseWriter, q *http.Request) {
			if err := r.handle(s, w, q); err != nil && q.Context().Err() == nil {
				refuse(w, q, statusOf(err), err)
			}
		})
	}
	return mux
}

var table []route

func init() { // a variable would be made from itself: the description of the interface is one of the routes
	table = []route{
		{method: "GET", path: "/{$}", about: "the page", gives: "text/html", handle: static("page.html", "text/html; charset=utf-8")},
		{method: "GET", path: "/page.js", about: "what the page does", gives: "text/javascript", handle: static("page.js.gz", "text/javascript; charset=utf-8")},
		{method: "GET", path: "/page.css", about: "how the page looks", gives: "text/css", handle: static("page.css", "text/css; charset=utf-8")},
		{method: "GET", path: "/icon.svg", about: "the picture in the browser's tab", gives: "image/svg+xml", handle: static("icon.svg", "image/svg+xml")},
		{method: "GET", path: "/api/openapi.json", about: "this description", gives: "application/json", handle: describe},
		{method: "GET", path: "/api/words", about: "the words of the page in a language", params: []param{language}, gives: "application/json", form: Words{}, handle: wordsOf},
		{method: "GET", path: "/api/sources", about: "what was put on the page, with the operations in it as far as they are known", gives: "application/json", form: []Source{}, handle: sources},
		{method: "POST", path: "/api/sources", about: "puts files on the page: a boundary, logs, perhaps the description of the set; other members of the form are flags of balk check",
			takes: "multipart/form-data", gives: "application/json", form: Source{}, handle: putSource},
		{method: "POST", path: "/api/demo", about: "puts a field of the invented farm on the page", gives: "application/json", form: Source{}, handle: putDemo},
		{method: "GET", path: "/api/sources/{id}/events", about: "how far the reading of a source is, until it is over", params: []param{language}, gives: "text/event-stream", form: Source{}, handle: events},
		{method: "DELETE", path: "/api/sources/{id}", about: "ends the work on a source, and takes it and the files that were put on the page for it away", handle: dropSource},
		{method: "GET", path: "/api/operations/{id}/report", about: "what balk check --json says of an operation; see balk help schema", params: []param{haste, supposition}, gives: "application/json", handle: ofOperation(report)},
		{method: "GET", path: "/api/operations/{id}/view", about: "an operation as people read it", params: []param{language, haste, supposition}, gives: "application/json", form: View{}, handle: ofOperation(view)},
		{method: "GET", path: "/api/operations/{id}/ground", about: "an operation as numbers to draw: a head in JSON, then 32-bit floats, little endian", params: []param{haste, supposition}, gives: "application/octet-stream", form: Ground{}, handle: ofOperation(groundOf)},
		{method: "GET", path: "/api/operations/{id}/handover", about: "the folder of balk handover as a zip", params: []param{language, supposition}, gives: "application/zip", handle: ofOperation(handover)},
		{method: "POST", path: "/api/operations/{id}/set", about: "writes what is supposed of the set into its file, beside what stood there", params: []param{supposition}, gives: "application/json", form: Rewritten{}, handle: rewrite},
		{method: "POST", path: "/api/operations/{id}/season", about: "keeps an operation in the farm, as balk season add does", params: []param{language, {"does", "what the operation does: loosens, cuts, combs, rolls, seeds; several with a comma"}}, gives: "application/json", form: Told{}, handle: keepInSeason},
		{method: "GET", path: "/api/operations/{id}/notes", about: "what was found in the field at strips and places of an operation", gives: "application/json", form: []Note{}, handle: notes},
		{method: "POST", path: "/api/operations/{id}/notes", about: "keeps notes of one device among those of others; of two about the same the later holds", takes: "application/json", gives: "application/json", form: []Note{}, handle: putNotes},
		{method: "GET", path: "/api/operations/{id}/corrections", about: "what somebody knows better than boundary and log, of the field of an operation", gives: "application/json", form: []Correction{}, handle: corrections},
		{method: "POST", path: "/api/operations/{id}/corrections", about: "puts a correction into the farm: a Correction without its number and the time it was made", takes: "application/json", gives: "application/json", form: Correction{}, handle: putCorrection},
		{method: "DELETE", path: "/api/operations/{id}/corrections/{number}", about: "takes a correction back; the farm keeps it among what was removed", handle: withdraw},
		{method: "GET", path: featuresPath, about: "OGC API – Features: where a GIS begins", gives: "application/json", form: Landing{}, handle: landing},
		{method: "GET", path: featuresPath + "/conformance", about: "OGC API – Features: what is kept to", gives: "application/json", form: Conformance{}, handle: conforms},
		{method: "GET", path: featuresPath + "/collections", about: "OGC API – Features: the layers of the operations that are read", gives: "application/json", form: Collections{}, handle: collections},
		{method: "GET", path: featuresPath + "/collections/{layer}", about: "OGC API – Features: one layer", gives: "application/json", form: Collection{}, handle: collection},
		{method: "GET", path: featuresPath + "/collections/{layer}/items", about: "OGC API – Features: the features of a layer, a page at a time",
			params: []param{{"limit", "how many at once, up to 10,000"}, {"offset", "how many are passed over"}, {"bbox", "west,south,east,north: only those that touch it"}, {"datetime", "features have no one time: all are given"}}, gives: geoJSON, handle: items},
		{method: "GET", path: featuresPath + "/collections/{layer}/items/{feature}", about: "OGC API – Features: one feature", gives: geoJSON, handle: item},
	}
	for _, name := range slices.Sorted(maps.Keys(carriedOut)) {
		table = append(table, carriedOut[name].routes(name)...)
	}
}

// Problem is the answer to a request that could not be met, in the words of the command line.
type Problem struct {
	Error string `json:"error"`
}

// refuse answers with an error. Names from files in it are text: the page puts them nowhere else.
func refuse(w http.ResponseWriter, r *http.Request, status int, err error) {
	l, _ := languageOf(r)
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_ = json.NewEncoder(w).Encode(Problem{l.Fault(linesOf(err))}) // who asked may be gone
}

// linesOf are the lines of an error as people may read them.
func linesOf(err error) string {
	lines := strings.Split(err.Error(), "\n")
	for i, line := range lines {
		lines[i] = geo.Shown(line)
	}
	return strings.Join(lines, "\n")
}

func statusOf(err error) int {
	var large *http.MaxBytesError
	if _, call := errors.AsType[*job.WrongCall](err); call {
		return http.StatusBadRequest
	}
	if _, query := errors.AsType[*queryError](err); query {
		return http.StatusBadRequest
	}
	switch {
	case errors.Is(err, errNotThere):
		return http.StatusNotFound
	case errors.As(err, &large):
		return http.StatusRequestEntityTooLarge
	}
	return http.StatusUnprocessableEntity
}

func give(w http.ResponseWriter, v any) error {
	w.Header().Set("Content-Type", "application/json")
	return json.NewEncoder(w).Encode(v)
}

// Source is what was put on the page at once.
type Source struct {
	ID         string   `json:"id"`
	Files      []string `json:"files"`          // as balk check is given them
	Kept       bool     `json:"kept"`           // in the folder of the page
	What       string   `json:"what,omitempty"` // what is done just now
	Done       int      `json:"done"`
	Of         int      `json:"of"`
	Over       bool     `json:"over"`            // all is read
	Error      string   `json:"error,omitempty"` // why it could not be read
	Operations []Listed `json:"operations"`
}

// Listed is an operation in a list.
type Listed struct {
	ID    string `json:"id"`
	Field string `json:"field,omitempty"` // number, where the source has several
	Days  string `json:"days,omitempty"`  // where it was worked more than once
}

func (s *source) told(l words.Language) Source {
	now, parts, _ := s.now()
	out := Source{ID: s.id, Files: filesOf(s.args), Kept: s.dir != "", What: l.Told(now.What), Done: now.Done, Of: now.Of, Over: now.Over, Operations: []Listed{}}
	if now.Err != nil {
		out.Error = l.Fault(linesOf(now.Err))
	}
	for _, p := range parts {
		args := p.call()
		out.Operations = append(out.Operations, Listed{p.id, flagOf(args, "field"), flagOf(args, "days")})
	}
	return out
}

func languageOf(r *http.Request) (words.Language, error) {
	l := words.Language(r.URL.Query().Get(languageName))
	return l, l.Validate()
}

func sources(s *shelf, w http.ResponseWriter, r *http.Request) error {
	l, err := languageOf(r)
	if err != nil {
		return err
	}
	s.mu.Lock()
	list := make([]Source, 0, len(s.sources))
	for _, one := range s.sources {
		list = append(list, one.told(l))
	}
	s.mu.Unlock()
	return give(w, list)
}

func putSource(s *shelf, w http.ResponseWriter, r *http.Request) error {
	r.Body = http.MaxBytesReader(w, r.Body, mostUpload)
	form, err := r.MultipartReader()
	if err != nil {
		return err
	}
	one, err := s.take(r.Context(), form)
	if err != nil {
		return err
	}
	return give(w, one.told(words.English))
}

func putDemo(s *shelf, w http.ResponseWriter, r *http.Request) error {
	one, err := s.demo(r.Context())
	if err != nil {
		return err
	}
	return give(w, one.told(words.English))
}

func dropSource(s *shelf, w http.ResponseWriter, r *http.Request) error {
	if err := s.drop(r.PathValue("id")); err != nil {
		return err
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// events begins the reading of a source, and tells how far it is (server-sent events, HTML standard 9.2).
func events(s *shelf, w http.ResponseWriter, r *http.Request) error {
	one, err := s.source(r.PathValue("id"))
	if err != nil {
		return err
	}
	l, err := languageOf(r)
	if err != nil {
		return err
	}
	s.begin(one)
	w.Header().Set("Content-Type", "text/event-stream")
	out := http.NewResponseController(w)
	for {
		_, _, changed := one.now()
		told := one.told(l)
		text, err := json.Marshal(told)
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintf(w, "data: %s\n\n", text); err != nil {
			return nil // who asked is gone
		}
		if err := out.Flush(); err != nil || told.Over {
			return nil
		}
		select {
		case <-changed:
		case <-r.Context().Done():
			return nil
		}
	}
}

// asked is the operation that a request is about, as it supposes it, and the language it is to be told in.
func (s *shelf) asked(r *http.Request) (j judged, id string, l words.Language, err error) {
	if l, err = languageOf(r); err != nil {
		return judged{}, "", l, err
	}
	query := r.URL.Query()
	haste := query.Has(hasteName)
	query.Del(hasteName)
	one, p, err := s.part(r.Context(), r.PathValue("id"))
	if err != nil {
		return judged{}, "", l, err
	}
	args, err := supposed(p.call(), query)
	if err != nil {
		return judged{}, "", l, err
	}
	j, err = s.judge(r.Context(), one, p, args, haste)
	return j, p.id, l, err
}

// ofOperation answers about an operation.
func ofOperation(answer func(s *shelf, w http.ResponseWriter, r *http.Request, j judged, id string, l words.Language) error) func(*shelf, http.ResponseWriter, *http.Request) error {
	return func(s *shelf, w http.ResponseWriter, r *http.Request) error {
		j, id, l, err := s.asked(r)
		if err != nil {
			return err
		}
		return answer(s, w, r, j, id, l)
	}
}

func report(_ *shelf, w http.ResponseWriter, _ *http.Request, j judged, _ string, _ words.Language) error {
	w.Header().Set("Content-Type", "application/json")
	return j.report.JSON(w)
}

func view(_ *shelf, w http.ResponseWriter, _ *http.Request, j judged, id string, l words.Language) error {
	return give(w, viewOf(id, j, l))
}

func groundOf(_ *shelf, w http.ResponseWriter, _ *http.Request, j judged, _ string, _ words.Language) error {
	w.Header().Set("Content-Type", "application/octet-stream")
	return writeGround(w, j.result)
}

func handover(s *shelf, w http.ResponseWriter, r *http.Request, j judged, id string, l words.Language) error {
	return packed(w, "handover-"+id, func(dir string) error {
		spec := job.HandoverSpec{Spec: j.spec}
		spec.Out, spec.Language, spec.Page = dir, l, true
		_, err := job.Handover(r.Context(), spec, &job.Call{Say: s.Say, Page: WriteWhole})
		return err
	})
}

// passing makes a folder for a while, has it filled, and uses it.
func passing(fill, use func(dir string) error) error {
	above, err := os.MkdirTemp("", "balk-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(above)
	dir := filepath.Join(above, "out")
	if err := folder.Safely(func() error { return fill(dir) }); err != nil {
		return err
	}
	return use(dir)
}

// packed gives a folder as a zip.
func packed(w http.ResponseWriter, name string, fill func(dir string) error) error {
	return passing(fill, func(dir string) error {
		w.Header().Set("Content-Type", "application/zip")
		w.Header().Set("Content-Disposition", `attachment; filename="`+name+`.zip"`)
		return zipped(w, os.DirFS(dir))
	})
}
