package web

import (
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"balk/coverage/rig"
	"balk/export/words"
)

// Told is what another verb of balk says of an operation: of its field, its set or its log.
type Told struct {
	Command  string          `json:"command"`
	Said     string          `json:"said,omitempty"`   // as on the terminal, where the report has no sentences
	Remarks  []string        `json:"remarks"`          // what was odd
	Report   json.RawMessage `json:"report,omitempty"` // as with --json
	Cautions string          `json:"cautions"`
	Files    []File          `json:"files"` // drawings and layers that it writes
}

// File is a text in the folder of a verb.
type File struct {
	Name string `json:"name"`
	Text string `json:"text"`
}

// verb is one that the page can carry out on an operation.
type verb struct {
	call     []string                                         // its words
	about    string                                           // what of an operation it is about
	reads    func(s *shelf, r *http.Request) (string, error)  // a file that it is about before all else; nil = none
	on       func(s *shelf, j judged, args []string) []string // what it is about, by the arguments of balk check
	keeps    []string                                         // flags of these arguments that it has too; nil = all
	may      []string                                         // flags of its own that the page may set: none names a file
	into     string                                           // the folder in its command as it is shown, where it has none of its own accord
	says     bool                                             // its report has no sentences: those of the terminal are told
	cautions func(words.Language) string
}

// reading are the flags that say how a boundary is read.
var reading = []string{"crs", "layer", "mend", "large", "close"}

// machine are those that describe the set, turning those of what is asked about its turns.
var (
	machine = []string{"implement", "width", "overlap", "mount"}
	turning = []string{"headland", "radius", "mount", "spacing", "skip"}
)

// weather are those that name a station and say how it is read.
var weather = []string{"weather", "weather-altitude", "wind-height", "weather-zone", "weather-begin", "rain", "warmth-base"}

// alone are flags without a value.
var alone = []string{"mend", "large", "close", "together", "weather-begin", "along-longest", "full-spacing"}

var carriedOut = map[string]verb{
	"compare": {call: []string{"compare"}, about: "field and set", on: ofWidth, keeps: append([]string{"implement", "overlap"}, reading...),
		may: []string{"widths", "speed", "rounds", "bearing", "gate"}, cautions: words.Language.BeforeWork},
	"turn":     {call: []string{"turn"}, about: "set", on: onSet, keeps: machine, may: turning, cautions: words.Language.BeforeWork}, // follows while a hand drags
	"rowends":  {call: []string{"turn"}, about: "field and set", on: onField, keeps: append(machine, reading...), may: append([]string{"bearing"}, turning...), cautions: words.Language.BeforeWork},
	"sweeps":   {call: []string{"sweeps"}, about: "set", on: onSet, keeps: []string{"implement"}, may: []string{"want", "bent", "axle"}, says: true, cautions: words.Language.InTheYard},
	"season":   {call: []string{"season", "show"}, about: "field over the season", on: inSeason, keeps: weather, may: []string{"season", "day", "due-days"}, says: true, cautions: words.Language.AfterWork},
	"handover": {call: []string{"handover"}, about: "work, on paper", on: onPaper, may: []string{"operation", "driver", "zone"}, into: "handover", cautions: words.Language.AfterWork},
	"spots":    {call: []string{"spots", "plan"}, about: "log", on: onLog, may: []string{"n", "seed", "gate"}, cautions: words.Language.OnFoot},
	"seen":     {call: []string{"spots", "read"}, about: "spot checks, as they were noted in the field", reads: seenAt, on: onLog, may: []string{"depth"}, cautions: words.Language.OnFoot},
}

func onField(_ *shelf, j judged, _ []string) []string {
	return []string{j.spec.Boundary, "--field", strconv.Itoa(j.report.Field.Number)}
}

// ofWidth is onField with the bare width, where nobody described the set.
func ofWidth(s *shelf, j judged, args []string) []string {
	on := onField(s, j, args)
	if flagOf(args, "implement") == "" && j.spec.Implement.Turning == (rig.Turning{}) {
		on = append(on, "--widths", strconv.FormatFloat(j.spec.Work.Width, 'f', -1, 64))
	}
	return on
}

func onSet(*shelf, judged, []string) []string { return nil }

func onLog(_ *shelf, _ judged, args []string) []string { return filesOf(args) }

func onPaper(_ *shelf, _ judged, args []string) []string {
	return append(filesOf(args), "--pictures", "svg", "--page")
}

func inSeason(s *shelf, j judged, _ []string) []string {
	return []string{j.report.Field.Name, "--farm", s.farmOf(j.spec)}
}

// args are those of the verb for an operation, with flags of a query.
func (v verb) args(s *shelf, j judged, r *http.Request) ([]string, error) {
	var args []string
	if v.reads != nil {
		file, err := v.reads(s, r)
		if err != nil {
			return nil, err
		}
		args = append(args, file)
	}
	args = append(args, v.on(s, j, j.args)...)
	for i := len(filesOf(j.args)); i < len(j.args); i++ {
		name, value, valued := strings.Cut(strings.TrimPrefix(j.args[i], "--"), "=")
		one := []string{j.args[i]}
		if !valued && !slices.Contains(alone, name) && i+1 < len(j.args) {
			i++
			one, value = append(one, j.args[i]), j.args[i]
		}
		if name == "field" && slices.Contains(args, "--field") || v.keeps != nil && !slices.Contains(v.keeps, name) {
			continue
		}
		if name == "mount" && slices.ContainsFunc(r.URL.Query()["mount"], func(other string) bool { return sameName(other, value) }) {
			continue
		}
		args = append(args, one...)
	}
	return with(args, r.URL.Query(), v.may)
}

// sameName says whether two values like hitch=1 are of the same thing.
func sameName(a, b string) bool {
	a, _, _ = strings.Cut(a, "=")
	b, _, _ = strings.Cut(b, "=")
	return a == b
}

// carried answers with what the verb says of an operation.
func (v verb) carried(answer func(s *shelf, w http.ResponseWriter, r *http.Request, v verb, args []string, l words.Language) error) func(*shelf, http.ResponseWriter, *http.Request) error {
	return func(s *shelf, w http.ResponseWriter, r *http.Request) error {
		l, err := languageOf(r)
		if err != nil {
			return err
		}
		_, j, err := s.fieldAsked(r)
		if err != nil {
			return err
		}
		args, err := v.args(s, j, r)
		if err != nil {
			return err
		}
		return answer(s, w, r, v, args, l)
	}
}

// in is a call of the verb in a language, with more flags.
func (v verb) in(l words.Language, args []string, more ...string) []string {
	out := slices.Concat(v.call, args, more)
	if l != "" {
		out = append(out, "--language", string(l))
	}
	return out
}

func told(s *shelf, w http.ResponseWriter, r *http.Request, v verb, args []string, l words.Language) error {
	out := Told{Command: commandOf(v.call, args), Cautions: v.cautions(l), Files: []File{}}
	if v.into != "" {
		out.Command += " --out " + v.into
	}
	if v.says {
		var err error
		if out.Said, _, err = s.Verb(r.Context(), v.in(l, args)); err != nil {
			return err
		}
	}
	return passing(func(dir string) error {
		_, remarks, err := s.Verb(r.Context(), v.in(l, args, "--out", dir))
		out.Remarks = remarked(remarks)
		return err
	}, func(dir string) error {
		files, err := os.ReadDir(dir)
		if err != nil {
			return err
		}
		for _, f := range files {
			end := filepath.Ext(f.Name())
			if end != ".svg" && end != ".geojson" && f.Name() != reportName {
				continue
			}
			text, err := os.ReadFile(filepath.Join(dir, f.Name()))
			if err != nil {
				return err
			}
			if f.Name() == reportName {
				out.Report = text
				continue
			}
			out.Files = append(out.Files, File{f.Name(), string(text)})
		}
		return give(w, out)
	})
}

// remarked are the lines of remarks, without the name of the program in front.
func remarked(remarks string) []string {
	out := []string{}
	for line := range strings.Lines(remarks) {
		out = append(out, strings.TrimPrefix(strings.TrimSuffix(line, "\n"), "balk: "))
	}
	return out
}

// reportName is the report in a folder that balk fills.
const reportName = "report.json"

func alsoPacked(s *shelf, w http.ResponseWriter, r *http.Request, v verb, args []string, l words.Language) error {
	return packed(w, v.call[0]+"-"+r.PathValue("id"), func(dir string) error {
		_, _, err := s.Verb(r.Context(), v.in(l, args, "--out", dir))
		return err
	})
}

// keepInSeason puts an operation into the farm whose corrections hold for it.
func keepInSeason(s *shelf, w http.ResponseWriter, r *http.Request) error {
	l, err := languageOf(r)
	if err != nil {
		return err
	}
	_, j, err := s.fieldAsked(r)
	if err != nil {
		return err
	}
	v := verb{call: []string{"season", "add"}, may: []string{"does"}}
	args, err := with(append(without(j.args, "farm"), "--farm", s.farmOf(j.spec)), r.URL.Query(), v.may)
	if err != nil {
		return err
	}
	out := Told{Command: commandOf(v.call, args), Files: []File{}}
	var remarks string
	if out.Said, remarks, err = s.Verb(r.Context(), v.in(l, args)); err != nil {
		return err
	}
	out.Remarks = remarked(remarks)
	if err := s.corrected(r.Context()); err != nil { // its corrections hold from now on
		return err
	}
	return give(w, out)
}

// routes are the two of each verb.
func (v verb) routes(name string) []route {
	params := []param{language}
	for _, flag := range v.may {
		params = append(params, param{flag, "as --" + flag + " of balk " + strings.Join(v.call, " ")})
	}
	path := "/api/operations/{id}/also/" + name
	return []route{
		{method: "GET", path: path, about: "what balk " + strings.Join(v.call, " ") + " says of an operation: of its " + v.about, params: params, gives: "application/json", form: Told{}, handle: v.carried(told)},
		{method: "GET", path: path + "/folder", about: "the folder that it writes, as a zip", params: params, gives: "application/zip", handle: v.carried(alsoPacked)},
	}
}
