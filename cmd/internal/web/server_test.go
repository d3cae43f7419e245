package web_test

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"balk/cmd/internal/web"
)

// visitor asks a served page.
type visitor struct {
	*testing.T
	base  string
	token string
}

func visit(t *testing.T, args ...string) visitor {
	t.Helper()
	address, _ := served(t, args...)
	at, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	return visitor{t, "http://" + at.Host, at.Query().Get("token")}
}

// ask sends a request with the token, changed by more.
func (v visitor) ask(method, path string, body io.Reader, more func(*http.Request)) (int, http.Header, []byte) {
	v.Helper()
	r, err := http.NewRequestWithContext(v.Context(), method, v.base+path, body)
	if err != nil {
		v.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+v.token)
	if more != nil {
		more(r)
	}
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	a, err := client.Do(r)
	if err != nil {
		v.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil {
		v.Fatal(err)
	}
	return a.StatusCode, a.Header, text
}

func (v visitor) get(path string) []byte {
	v.Helper()
	status, _, text := v.ask("GET", path, nil, nil)
	if status != http.StatusOK {
		v.Fatalf("GET %s: %d %s", path, status, text)
	}
	return text
}

// Who has no token, comes under another name, or from another page, gets nothing.
func TestNobodyElseGetsIn(t *testing.T) {
	v := visit(t, "--keep", filepath.Join(t.TempDir(), "kept"))
	host := strings.TrimPrefix(v.base, "http://")
	port := host[strings.LastIndex(host, ":"):]
	for name, c := range map[string]struct {
		method, path string
		more         func(*http.Request)
		want         int
	}{
		"with the token":                      {"GET", "/api/sources", nil, 200},
		"the page":                            {"GET", "/", nil, 200},
		"without the token":                   {"GET", "/api/sources", func(r *http.Request) { r.Header.Del("Authorization") }, 401},
		"without the token, the page":         {"GET", "/", func(r *http.Request) { r.Header.Del("Authorization") }, 401},
		"with another token":                  {"GET", "/api/sources", func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+v.token[1:]+"A") }, 401},
		"the token in the address":            {"GET", "/api/sources?token=" + v.token, func(r *http.Request) { r.Header.Del("Authorization") }, 200},
		"the address that is opened":          {"GET", "/?token=" + v.token, func(r *http.Request) { r.Header.Del("Authorization") }, 303},
		"as localhost":                        {"GET", "/api/sources", func(r *http.Request) { r.Host = "localhost" + port }, 200},
		"a name turned to this computer":      {"GET", "/api/sources", func(r *http.Request) { r.Host = "fields.example" + port }, 421},
		"from its own page":                   {"POST", "/api/demo", func(r *http.Request) { r.Header.Set("Origin", v.base); r.Header.Set("Sec-Fetch-Site", "same-origin") }, 200},
		"from another page":                   {"POST", "/api/demo", func(r *http.Request) { r.Header.Set("Origin", "http://fields.example") }, 403},
		"from another page, asked for nobody": {"POST", "/api/demo", func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }, 403},
		"from a page without a name":          {"POST", "/api/demo", func(r *http.Request) { r.Header.Set("Origin", "null") }, 403},
		"a file of the machine":               {"GET", "/../../etc/passwd", nil, 404},
		"what is not there":                   {"GET", "/api/operations/9.1/view", nil, 404},
	} {
		status, head, text := v.ask(c.method, c.path, nil, c.more)
		if status != c.want && (c.want != 404 || status != http.StatusMovedPermanently && status != http.StatusTemporaryRedirect) {
			t.Errorf("%s: %d, want %d: %s", name, status, c.want, text)
		}
		if !strings.Contains(head.Get("Content-Security-Policy"), "default-src 'none'") {
			t.Errorf("%s: no policy: %v", name, head)
		}
	}
	if text := string(v.get("/")); regexp.MustCompile(`<script[^>]*>[^<]|https?://|style=|onclick=`).MatchString(text) {
		t.Error("the page has a script or a style in it, or names another host")
	}
}

// form is files and flags as the page sends them.
func form(t *testing.T, files map[string][]byte, flags map[string]string) (io.Reader, func(*http.Request)) {
	t.Helper()
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	for _, name := range slices.Sorted(maps.Keys(flags)) {
		if err := w.WriteField(name, flags[name]); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		part, err := w.CreateFormFile("file", name)
		if err == nil {
			_, err = part.Write(files[name])
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return &b, func(r *http.Request) { r.Header.Set("Content-Type", w.FormDataContentType()) }
}

// Names that lead out of the folder, flags that name files, and what is no operation are refused, and nothing is left of them.
func TestWhatIsPutOnThePageStaysInItsFolder(t *testing.T) {
	dir, above := farm(t), t.TempDir()
	keep := filepath.Join(above, "kept")
	v := visit(t, "--keep", keep)
	fields, err := os.ReadFile(filepath.Join(dir, "fields.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	log, err := os.ReadFile(filepath.Join(dir, "track-pond.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	whole := map[string][]byte{"f.geojson": fields, "t.geojson": log}
	for name, c := range map[string]struct {
		files map[string][]byte
		flags map[string]string
		want  string
	}{
		"a way out":                {map[string][]byte{"../f.geojson": fields, "t.geojson": log}, nil, "no name for a file"},
		"a way out, as on Windows": {map[string][]byte{`..\..\f.geojson`: fields, "t.geojson": log}, nil, "no name for a file"},
		"from the root":            {map[string][]byte{"/f.geojson": fields, "t.geojson": log}, nil, "no name for a file"},
		"its own call":             {map[string][]byte{"call.json": []byte("{}"), "f.geojson": fields, "t.geojson": log}, nil, "no name for a file"},
		"a flag that names a file": {whole, map[string]string{"plan": "/etc/passwd"}, "no flag that the page may set"},
		"a flag within a value":    {whole, map[string]string{"width": "--out"}, "no value"},
		"no boundary":              {map[string][]byte{"t.geojson": log}, nil, "no boundary"},
		"nothing":                  {nil, nil, "no files"},
		"two boundaries":           {map[string][]byte{"f.geojson": fields, "g.geojson": fields, "t.geojson": log}, nil, "more than one"},
	} {
		body, head := form(t, c.files, c.flags)
		if status, _, text := v.ask("POST", "/api/sources", body, head); status != http.StatusUnprocessableEntity || !strings.Contains(string(text), c.want) {
			t.Errorf("%s: %d %s, want %q", name, status, text, c.want)
		}
	}
	if left, err := os.ReadDir(keep); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
	if left, err := os.ReadDir(above); err != nil || len(left) != 1 {
		t.Errorf("beside the folder: %v %v", left, err)
	}
	body, head := form(t, map[string][]byte{"north field/a 'b' <i>.geojson": fields, "north field/t.geojson": log}, map[string]string{"width": "6", "overlap": "0.1"})
	status, _, text := v.ask("POST", "/api/sources", body, head)
	var s web.Source
	if err := json.Unmarshal(text, &s); err != nil || status != http.StatusOK {
		t.Fatalf("%d %s: %v", status, text, err)
	}
	var seen web.View
	if err := json.Unmarshal(v.get("/api/operations/"+s.ID+".1/view"), &seen); err != nil {
		t.Fatal(err)
	}
	if want := `/north field/a '\''b'\'' <i>.geojson'`; !strings.Contains(seen.Command, want) {
		t.Errorf("the command %q has not %q", seen.Command, want)
	}
	if status, _, text := v.ask("DELETE", "/api/sources/"+s.ID, nil, nil); status != http.StatusNoContent {
		t.Errorf("taken away: %d %s", status, text)
	}
	if left, err := os.ReadDir(keep); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
}

// The report is that of balk check --json, as driven and as supposed, byte by byte.
func TestTheSameAsTheCommand(t *testing.T) {
	dir := farm(t)
	v := visit(t, append(pond(dir), "--keep", t.TempDir())...)
	for query, more := range map[string][]string{
		"":                                nil,
		"?width=5.8&mount=barRight%3D0.2": {"--width", "5.8", "--mount", "barRight=0.2"},
	} {
		want, code := balk(t, append(append([]string{"check", "--json"}, pond(dir)...), more...)...)
		if code != 0 {
			t.Fatal(want)
		}
		if query != "" { // what was judged in haste is finished, not judged again
			v.get("/api/operations/call.1/report" + query + "&haste=1")
		}
		if got := string(v.get("/api/operations/call.1/report" + query)); got != want {
			t.Errorf("%q: another report than of the command, %d bytes for %d", query, len(got), len(want))
		}
	}
	for query, want := range map[string]string{"?width=-1": "must be above 0 and not above 100 m", "?plan=x": "nothing that can be supposed", "?width=--out": "no value", "?width=wide": "is no number of metres"} {
		if status, _, text := v.ask("GET", "/api/operations/call.1/view"+query, nil, nil); status < 400 || status >= 500 || !strings.Contains(string(text), want) {
			t.Errorf("%q: %d %s, want %q", query, status, text, want)
		}
	}
}

// A log on several fields gives an operation on each.
func TestSeveralOperations(t *testing.T) {
	dir := farm(t)
	args := []string{filepath.Join(dir, "fields.geojson"), filepath.Join(dir, "track-pond.geojson"), filepath.Join(dir, "track-ribbon.geojson"), "--width", "6"}
	v := visit(t, append(args, "--keep", t.TempDir())...)
	said := string(v.get("/api/sources/call/events"))
	if want := `"operations":[{"id":"call.1","field":"1"},{"id":"call.2","field":"3"}]`; !strings.Contains(said, want) {
		t.Errorf("%s has not %s", said, want)
	}
	var second web.View
	if err := json.Unmarshal(v.get("/api/operations/call.2/view?lang=de"), &second); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(second.Field, "Ribbon") || !strings.HasSuffix(second.Command, "--field 3") {
		t.Errorf("%q, %q", second.Field, second.Command)
	}
}

// The numbers to draw add up to the ground of the balance, and take places back to degrees.
func TestGroundAsNumbers(t *testing.T) {
	dir := farm(t)
	v := visit(t, append(pond(dir), "--keep", t.TempDir())...)
	packed := v.get("/api/operations/call.1/ground")
	want := reported(t, pond(dir)...)
	n := binary.LittleEndian.Uint32(packed)
	var head web.Ground
	if err := json.Unmarshal(packed[4:4+n], &head); err != nil || n%4 != 0 {
		t.Fatalf("a head of %d bytes: %v", n, err)
	}
	numbers := make([]float32, (len(packed)-4-int(n))/4)
	if err := binary.Read(bytes.NewReader(packed[4+n:]), binary.LittleEndian, numbers); err != nil {
		t.Fatal(err)
	}
	areas := map[string]float64{}
	for _, l := range head.Layers {
		for _, rings := range l.Shapes {
			for _, points := range rings {
				ring := numbers[:2*points]
				numbers = numbers[2*points:]
				for k := 0; k < points; k++ { // shoelace; holes run the other way
					m := (k + 1) % points
					areas[l.Name] += (float64(ring[2*k])*float64(ring[2*m+1]) - float64(ring[2*m])*float64(ring[2*k+1])) / 2
				}
			}
		}
	}
	strips := 0.0
	for _, s := range want.Strips {
		strips += s.Area
	}
	for name, m2 := range map[string]float64{"field": want.Balance.Field, "strips": strips, "ribbons": want.Ribbons.Area} {
		if off := areas[name] - m2; off > 0.05 || off < -0.05 {
			t.Errorf("%s: %.3f m², want %.3f", name, areas[name], m2)
		}
	}
	if len(numbers) != head.Places*len(head.Columns) || head.Places < 1000 {
		t.Fatalf("%d numbers for %d places", len(numbers), head.Places)
	}
	column := func(name string) []float32 {
		at := slices.Index(head.Columns, name) * head.Places
		return numbers[at : at+head.Places]
	}
	sure := map[float32]int{} // work is logged, but for one hole in the log
	for k, of := range column("surety") {
		if column("pass")[k] > 0 {
			sure[of]++
		}
	}
	if sure[0] < 1000 || sure[1] > 0 || sure[2] > 0 || sure[3] == 0 || sure[3] > 10 {
		t.Errorf("places by surety: %v", sure)
	}
	steepest := float32(0) // on the way at work
	for k, across := range column("across") {
		if column("pass")[k] > 0 {
			steepest = max(steepest, across)
		}
	}
	if of := 100 * want.Slope.Across.Slope; want.Slope.Known < 0.99 || math.Abs(float64(steepest)-of) > 0.1 {
		t.Errorf("the greatest slope across is %.2f %% of places, want %.2f", steepest, of)
	}
}

// The farm is invented once, however many pages ask for it at the same time.
func TestOneFarmForAll(t *testing.T) {
	v := visit(t, "--keep", filepath.Join(t.TempDir(), "kept"))
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			if status, _, text := v.ask("POST", "/api/demo", nil, nil); status != http.StatusOK {
				t.Errorf("%d %s", status, text)
			}
		})
	}
	all.Wait()
	var list []web.Source
	if err := json.Unmarshal(v.get("/api/sources"), &list); err != nil || len(list) != 1 {
		t.Errorf("%d sources: %v", len(list), err)
	}
}

// The description of the interface names every path that is served, and what it names is served.
func TestDescribedAsServed(t *testing.T) {
	dir := farm(t)
	v := visit(t, append(pond(dir), "--keep", filepath.Join(t.TempDir(), "kept"))...)
	var d struct {
		OpenAPI string
		Paths   map[string]map[string]struct {
			Summary    string
			Parameters []struct{ Name, In string }
			Responses  map[string]struct{ Content map[string]any }
		}
	}
	if err := json.Unmarshal(v.get("/api/openapi.json"), &d); err != nil || d.OpenAPI != "3.1.0" {
		t.Fatalf("%q: %v", d.OpenAPI, err)
	}
	ids := strings.NewReplacer("{layer}", "call.1.missed", "{feature}", "1", "/sources/{id}", "/sources/call", "/operations/{id}", "/operations/call.1")
	if status, _, text := v.ask("POST", "/api/operations/call.1/season?does=cuts", nil, nil); status != http.StatusOK {
		t.Errorf("the season: %d %s", status, text)
	}
	if status, _, text := v.ask("POST", "/api/operations/call.1/notes", strings.NewReader(`[{"kind":"place","number":1,"state":"done","when":"2026-05-01T10:00:00Z","at":[11.5745,48.1365],"note":"","seen":{"cut":"yes","why":"drawn","pass":9}}]`), nil); status != http.StatusOK {
		t.Errorf("a place looked at: %d %s", status, text)
	}
	for path, methods := range d.Paths {
		what, there := methods["get"]
		if !there || strings.HasSuffix(path, "/folder") && !strings.Contains(path, "sweeps") { // one stands for all
			continue
		}
		if strings.HasSuffix(path, "/compare") {
			path += "?speed=8"
		}
		status, head, text := v.ask("GET", ids.Replace(path), nil, nil)
		kind, _, _ := strings.Cut(head.Get("Content-Type"), ";")
		if status != http.StatusOK || what.Responses["200"].Content[kind] == nil || what.Summary == "" {
			t.Errorf("GET %s: %d %s, described as %v: %.200s", path, status, kind, what.Responses, text)
		}
	}
	if len(d.Paths) < 10 {
		t.Errorf("%d paths", len(d.Paths))
	}
}

// A handover comes as a zip with the sheet in it.
func TestHandoverAsZip(t *testing.T) {
	dir := farm(t)
	v := visit(t, append(pond(dir), "--keep", t.TempDir())...)
	status, head, text := v.ask("GET", "/api/operations/call.1/handover?lang=de", nil, nil)
	if status != http.StatusOK || head.Get("Content-Type") != "application/zip" {
		t.Fatalf("%d %v", status, head)
	}
	z, err := zip.NewReader(bytes.NewReader(text), int64(len(text)))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"sheet.pdf", "report.json", "rework.gpx", "geojson/missed.geojson", "page.html"} {
		if _, err := z.Open(name); err != nil {
			t.Error(err)
		}
	}
}

// The page that is linked in is made from the sources beside it: go generate ./cmd/internal/web makes it anew.
func TestBundleIsFresh(t *testing.T) {
	names, err := filepath.Glob("page/src/*.ts")
	if err != nil || len(names) < 5 {
		t.Fatalf("%d sources: %v", len(names), err)
	}
	names = append(names, "page/page.html", "page/page.css", "page/icon.svg", "page/package.json", "page/package-lock.json")
	slices.Sort(names)
	h := sha256.New()
	for _, name := range names {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(h, "%s %x\n", strings.TrimPrefix(filepath.ToSlash(name), "page/"), sha256.Sum256(text))
	}
	made, err := os.ReadFile("built/sources.sha256")
	if err != nil {
		t.Fatal(err)
	}
	if got := hex.EncodeToString(h.Sum(nil)); got != strings.TrimSpace(string(made)) {
		t.Error("the page was not bundled since its sources changed: npm ci in page, then go generate ./cmd/internal/web")
	}
	packed, err := os.ReadFile("built/page.js.gz")
	if err != nil || len(packed) > 800_000 {
		t.Errorf("%d bytes packed, at most 800,000: %v", len(packed), err)
	}
}

// Whatever the sources of the page say stands in the list of its words, and nothing else does.
func TestWordsOfThePage(t *testing.T) {
	v := visit(t, "--keep", filepath.Join(t.TempDir(), "kept"))
	var words map[string]string
	if err := json.Unmarshal(v.get("/api/words?lang=de"), &words); err != nil {
		t.Fatal(err)
	}
	said := map[string]bool{}
	names, err := filepath.Glob("page/src/*.ts")
	if err != nil {
		t.Fatal(err)
	}
	all := ""
	for _, name := range append(names, "page/page.html") {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		all += string(text)
	}
	for _, m := range regexp.MustCompile(`\bw\('([^']*)'|data-(?:w|label)="([^"]*)"|label: '([^']*)'`).FindAllStringSubmatch(all, -1) {
		said[m[1]+m[2]+m[3]] = true
	}
	for w := range said {
		if words[w] == "" {
			t.Errorf("the page says %q, which is not in its list", w)
		}
	}
	for w := range words {
		if !said[w] && !strings.Contains(all, "'"+w+"'") && !strings.Contains(all, `"`+w+`"`) {
			t.Errorf("%q is in the list, and never said", w)
		}
	}
	if words["Whole field"] != "Ganzer Schlag" || len(said) < 50 {
		t.Errorf("%d words; the whole field in German is %q", len(said), words["Whole field"])
	}
}

// Twenty visitors at once, of whom many go away before their answer comes, leave nothing running behind.
func TestManyVisitorsLeaveNothingBehind(t *testing.T) {
	dir := farm(t)
	before := runtime.NumGoroutine()
	address, stop := served(t, append(pond(dir), "--keep", filepath.Join(t.TempDir(), "kept"))...)
	at, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	transport := &http.Transport{}
	client := http.Client{Transport: transport}
	paths := []string{"/", "/page.js", "/api/sources", "/api/sources/call/events", "/api/operations/call.1/view?haste=1", "/api/operations/call.1/ground?haste=1", "/api/operations/call.1/view?haste=1&width=5.9",
		"/api/operations/call.1/view?haste=1&width=6.2", "/api/operations/call.1/report?haste=1", "/ogc/collections/call.1.missed/items", "/api/nothing"}
	var visitors sync.WaitGroup
	var whole atomic.Int64
	for n := range 20 {
		draw := rand.New(rand.NewPCG(18, uint64(n)))
		visitors.Go(func() {
			for range 12 {
				ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
				if draw.IntN(3) == 0 { // goes away soon
					ctx, cancel = context.WithTimeout(t.Context(), time.Duration(draw.IntN(20))*time.Millisecond)
				}
				r, err := http.NewRequestWithContext(ctx, "GET", "http://"+at.Host+paths[draw.IntN(len(paths))], nil)
				if err != nil {
					t.Error(err)
				}
				r.Header.Set("Authorization", "Bearer "+at.Query().Get("token"))
				if a, err := client.Do(r); err == nil {
					if _, err := io.Copy(io.Discard, a.Body); err == nil && a.StatusCode == http.StatusOK {
						whole.Add(1)
					}
					a.Body.Close()
				}
				cancel()
			}
		})
	}
	visitors.Wait()
	transport.CloseIdleConnections()
	stop()
	if whole.Load() < 60 {
		t.Errorf("%d answers came whole: the test does not see them", whole.Load())
	}
	for wait := time.Millisecond; runtime.NumGoroutine() > before; wait *= 2 { // the last ones are just ending
		if wait > 4*time.Second {
			stacks := make([]byte, 1<<16)
			t.Fatalf("%d goroutines, %d before:\n%s", runtime.NumGoroutine(), before, stacks[:runtime.Stack(stacks, true)])
		}
		time.Sleep(wait)
	}
}
