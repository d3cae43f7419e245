package web

import (
	"archive/zip"
	"io"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"

	"balk/cmd/internal/job"
	"balk/coverage"
	"balk/coverage/ground"
	"balk/coverage/rig"
	"balk/export/answer"
	"balk/export/sheet"
	"balk/export/words"
	"balk/geo"

	"github.com/paulmach/orb"
)

// View is an operation as people read it, in their language. Areas are m², lengths m, times s.
type View struct {
	ID       string         `json:"id"`
	Field    string         `json:"field"`
	Set      string         `json:"set"`            // name of the implement, where it has one
	Width    string         `json:"wide"`           // working width, overlap, credited width
	From     string         `json:"from,omitempty"` // UTC
	To       string         `json:"to,omitempty"`   // UTC
	Zone     string         `json:"zone"`           // that times are told in, by its name; "" = that of the reader's device
	Settle   []string       `json:"settle"`         // what stands before them: the log says otherwise than the set's description
	Answer   []string       `json:"answer"`         // what was found, in three sentences
	Holds    []string       `json:"holds"`          // on what the first of them stands
	Telling  string         `json:"telling"`        // how much the log can tell of strips: firm, range or none
	Table    []sheet.Row    `json:"table"`          // the balance, rounded
	Balance  ground.Balance `json:"balance"`        // as it is
	Strips   []Strip        `json:"strips"`
	Worth    []Step         `json:"worth"`             // what working strips again wins: each step is what comes on top of those before it
	Knee     int            `json:"knee"`              // of the steps: from there on a minute wins less than on average
	Weather  string         `json:"weather,omitempty"` // after the work
	Again    string         `json:"again"`             // the cautions, where strips are to be worked again
	Remarks  []string       `json:"remarks"`           // what was odd about the input
	Command  string         `json:"command"`           // that says the same
	Settings Settings       `json:"settings"`
}

// Strip is a missed strip in the list.
type Strip struct {
	Number   int        `json:"number"`
	Area     float64    `json:"area"`
	Length   float64    `json:"length"`
	Widest   float64    `json:"widest"`
	Cause    string     `json:"cause"`
	Surety   string     `json:"surety"`
	Sure     bool       `json:"sure"`  // certain
	Along    string     `json:"along"` // by which pass to get there
	Passes   []int      `json:"passes"`
	Headland bool       `json:"headland"`
	At       orb.Point  `json:"at"` // lon, lat
	XY       [2]float64 `json:"xy"` // on the plane of the field
}

// Step is a step of what working strips again wins.
type Step struct {
	Strips []int   `json:"strips"` // that come on top
	Area   float64 `json:"area"`   // up to here
	Time   float64 `json:"time"`   // up to here
}

// Settings are what may be supposed otherwise.
type Settings struct {
	Width     float64     `json:"width"`
	Overlap   float64     `json:"overlap"`
	Rounds    int         `json:"rounds"`
	Headland  float64     `json:"headland"`
	PassError float64     `json:"passError"` // 0 = from the log
	Frame     job.Frame   `json:"frame"`     // of the log; "" = not given
	Mount     rig.Mount   `json:"mount"`
	Tractor   rig.Tractor `json:"tractor"`
	Body      rig.Body    `json:"body"`
	Radius    float64     `json:"radius"` // least on which the set turns; 0 = not described
	File      string      `json:"file"`   // name of the file that describes the set; "" = none
}

// shown are sentences as the page shows them.
func shown(said []string) []string {
	out := []string{}
	for _, s := range said {
		out = append(out, geo.Shown(s))
	}
	return out
}

func viewOf(id string, j judged, l words.Language) View {
	r, c := j.report, j.result
	t := r.Table.In(l)
	v := View{
		ID: id, Field: r.Field.Shown(), Set: geo.Shown(r.Spec.Implement.Name), Telling: string(r.Telling.Strips), Balance: r.Balance,
		Width: l.Say("width %s, overlap %.2f m: effective width %.2f m (credited)", sheet.Width(l, r.Bar), r.Spec.Work.Overlap, r.Credited),
		Table: tableOf(t), Strips: []Strip{}, Worth: []Step{}, Remarks: []string{},
		Command: j.command, Zone: r.Spec.LogZone,
		Settings: Settings{r.Spec.Work.Width, r.Spec.Work.Overlap, r.Spec.Work.Rounds, r.Spec.Work.Headland, r.Spec.Work.PassError, r.Spec.Frame, r.Spec.Work.Mount, r.Spec.Implement.Tractor, r.Spec.Implement.Body, r.Spec.Implement.TurnRadius(), setFile(j.args)},
	}
	said := answer.Of(c, l)
	v.Settle, v.Answer, v.Holds = shown(said.Settle), shown(said.Three), shown(said.Holds)
	if n := len(r.Passes); n > 0 && geo.Dated(r.Passes[0].From) {
		v.From, v.To = instant(r.Passes[0].From), instant(r.Passes[n-1].To)
	}
	if r.Headland.Depth > 0 {
		v.Table = append(v.Table, t.HeadlandArea, t.Missed, t.Lifted, t.Twice)
	}
	if r.Weather != nil {
		v.Weather = l.Word("Weather") + ": " + strings.TrimSuffix(r.Weather.Words(l), ".") + ". " + l.Demand()
	}
	if len(r.Strips) > 0 {
		v.Again = l.AfterWork()
	}
	for _, s := range r.Strips {
		at := c.Local.XY(s.At)
		v.Strips = append(v.Strips, Strip{s.Number, s.Area, s.Length, s.MaxWidth, l.Word(string(s.Cause)), suretyOf(l, s.Surety), s.Surety == coverage.SuretyCertain,
			answer.Along(l, s), append([]int{}, s.Passes...), s.Headland, s.At, [2]float64{at.X, at.Y}})
	}
	if w := r.Worth; w != nil {
		knee := w.Knee()
		for i, step := range w.Steps {
			v.Worth = append(v.Worth, Step{step.Strips, step.Area, step.Time})
			if step.Count == knee.Count {
				v.Knee = i + 1
			}
		}
	}
	for _, f := range r.Findings {
		v.Remarks = append(v.Remarks, geo.Shown(l.Finding(f)))
	}
	return v
}

// setFile is the name of the file that a call takes the set from.
func setFile(args []string) string {
	if path := flagOf(args, "implement"); path != "" {
		return filepath.Base(path)
	}
	return ""
}

// tableOf are the lines of the balance, with what sweeps and other bars left under the ground worked once.
func tableOf(t sheet.Table) []sheet.Row {
	return slices.Concat([]sheet.Row{t.Title, t.Parts[0]}, t.Under(), t.Parts[1:], []sheet.Row{t.Field, t.Outside, t.FullMissed, t.Thin})
}

func suretyOf(l words.Language, s coverage.Surety) string {
	if s == coverage.SuretyUnknown {
		return l.Word("not known")
	}
	return l.Word(string(s))
}

// filesOf are the arguments that are files of fields and logs.
func filesOf(args []string) []string {
	var out []string
	for _, a := range args {
		if strings.HasPrefix(a, "--") {
			break
		}
		out = append(out, a)
	}
	return out
}

// flagOf is the value of a flag among arguments.
func flagOf(args []string, name string) string {
	for i, a := range args {
		if a == "--"+name && i+1 < len(args) {
			return args[i+1]
		}
		if v, ok := strings.CutPrefix(a, "--"+name+"="); ok {
			return v
		}
	}
	return ""
}

// zipped writes a folder as a zip.
func zipped(w io.Writer, dir fs.FS) error {
	z := zip.NewWriter(w)
	if err := z.AddFS(dir); err != nil {
		return err
	}
	return z.Close()
}
