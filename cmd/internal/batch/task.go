package batch

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"balk/cmd/internal/job"
	"balk/geo"
)

// Survey is what a log was found to hold.
type Survey struct {
	Log    Log          `json:"log"`
	SHA256 string       `json:"sha256"` // of its content
	Bytes  int64        `json:"bytes,omitempty"`
	Told   geo.Told     `json:"told,omitzero"`
	Driven []job.Driven `json:"driven,omitempty"` // on which fields, when
	State  State        `json:"state"`            // Judged: it has driving on fields; else why not
	Fault  *Fault       `json:"fault,omitempty"`
}

// Part is a log that has driving of a task.
type Part struct {
	Log     Log    `json:"log"`
	SHA256  string `json:"sha256"`
	Farm    string `json:"farm,omitempty"`
	Driver  string `json:"driver,omitempty"`
	Machine string `json:"machine,omitempty"`
}

// Task is driving on one field with one set, in sessions no more than a week apart: one operation, or several that went over the same
// ground again after a night, which only working it tells. It is worked all or not at all.
type Task struct {
	Key     string   `json:"key"` // of all that its rows depend on
	Field   int      `json:"field"`
	Set     string   `json:"set,omitempty"` // file of the implement; "" = that of the Spec
	Days    job.Days `json:"days,omitzero"` // of the logs only this driving is meant; zero = all on the field
	Parts   []Part   `json:"parts"`         // in the order of names
	Farm    string   `json:"farm,omitempty"`
	Driver  string   `json:"driver,omitempty"`
	Machine string   `json:"machine,omitempty"`
	Bytes   int64    `json:"bytes,omitempty"` // of its logs
}

// session is driving of one log on one field.
type session struct {
	job.Driven
	of  *Survey
	set string
	who geo.Told
}

// Share puts what logs hold into tasks, in an order that depends on nothing but the logs: many logs of one field and day are one task, and
// a log over many fields, or of a whole season, is in many. Driving without a time is a task by itself.
func (b *Batch) Share(surveys []Survey) []Task {
	type group struct {
		field int
		set   string
	}
	all := map[group][]session{}
	for i := range surveys {
		s := &surveys[i]
		for _, d := range s.Driven {
			set, who := b.rules.about(s.Log, s.Told, d.From)
			g := group{d.Field, set}
			all[g] = append(all[g], session{d, s, set, who})
		}
	}
	var groups []group
	for g, sessions := range all {
		groups = append(groups, g)
		slices.SortFunc(sessions, func(a, b session) int {
			return cmp.Or(a.From.Compare(b.From), cmp.Compare(a.of.Log.Name, b.of.Log.Name), a.To.Compare(b.To))
		})
	}
	slices.SortFunc(groups, func(a, b group) int { return cmp.Or(cmp.Compare(a.field, b.field), cmp.Compare(a.set, b.set)) })
	var tasks []Task
	for _, g := range groups {
		sessions := all[g]
		for from := 0; from < len(sessions); {
			to, end := from+1, sessions[from].To
			for to < len(sessions) && !sessions[from].From.IsZero() && sessions[to].From.Sub(end) <= geo.FarApart {
				if sessions[to].To.After(end) {
					end = sessions[to].To
				}
				to++
			}
			tasks = append(tasks, b.task(g.field, g.set, sessions[from:to]))
			from = to
		}
	}
	return tasks
}

// task is that of some sessions.
func (b *Batch) task(field int, set string, sessions []session) Task {
	t := Task{Field: field, Set: set}
	taken := map[string]int{}
	of := map[string]*people{}
	var all people
	whole := true
	for _, s := range sessions {
		if taken[s.of.Log.Name]++; taken[s.of.Log.Name] == 1 {
			t.Parts = append(t.Parts, Part{Log: s.of.Log, SHA256: s.of.SHA256})
			of[s.of.Log.Name] = &people{}
			t.Bytes += s.of.Bytes
		}
		all.with(s.who)
		of[s.of.Log.Name].with(s.who)
	}
	for i := range t.Parts {
		p := &t.Parts[i]
		p.Farm, p.Driver, p.Machine = of[p.Log.Name].told()
	}
	for _, s := range sessions {
		n := 0
		for _, d := range s.of.Driven {
			if d.Field == field {
				n++
			}
		}
		whole = whole && n == taken[s.of.Log.Name]
	}
	if !whole && !sessions[0].From.IsZero() {
		last := slices.MaxFunc(sessions, func(a, b session) int { return a.To.Compare(b.To) })
		t.Days = job.Days{From: sessions[0].From.Truncate(time.Minute), To: last.To.Truncate(time.Minute).Add(time.Minute)}
	}
	slices.SortFunc(t.Parts, func(a, b Part) int { return cmp.Compare(a.Log.Name, b.Log.Name) })
	t.Farm, t.Driver, t.Machine = all.told()
	t.Key = b.key(t)
	return t
}

// people are who worked with what for whom, each once.
type people struct{ farms, drivers, machines []string }

func (p *people) with(who geo.Told) {
	p.farms, p.drivers, p.machines = with(p.farms, who.Farm), with(p.drivers, who.Driver), with(p.machines, who.Machine)
}

func (p *people) told() (farm, driver, machine string) {
	return joined(p.farms), joined(p.drivers), joined(p.machines)
}

// with adds a text to a list that has each once.
func with(list []string, text string) []string {
	if text == "" || slices.Contains(list, text) {
		return list
	}
	return append(list, text)
}

func joined(list []string) string {
	slices.Sort(list)
	return strings.Join(list, ", ")
}

// key is the hash of all that the rows of a task depend on: contents, not where they lie; but names, which rows have.
func (b *Batch) key(t Task) string {
	settings := b.settings(t.Set)
	t.Key, t.Bytes, t.Set = "", 0, filepath.Base(t.Set)
	t.Parts = slices.Clone(t.Parts)
	for i := range t.Parts {
		t.Parts[i].Log.Path = ""
	}
	return hashOf(b.ground(t.Field), settings, t)
}

// hashOf is the SHA-256 of things as JSON.
func hashOf(things ...any) string {
	h := sha256.New()
	e := json.NewEncoder(h)
	for _, one := range things {
		if err := e.Encode(one); err != nil {
			panic(fmt.Sprintf("hash of a %T: %v", one, err)) // a type of ours, made of what JSON has
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}
