package batch

import (
	"bytes"
	"cmp"
	"fmt"
	"path"
	"path/filepath"
	"strings"
	"time"

	"balk/geo"
)

// Rules say what logs were worked with: of those that fit a log, the first that says a thing.
type Rules []Rule

// Rule fits a log where all that it names does. Texts have * for any letters but a slash; upper and lower case are one.
type Rule struct {
	Folder  string    `json:"folder,omitempty"` // that the log lies in, or one above it
	Machine string    `json:"machine,omitempty"`
	Driver  string    `json:"driver,omitempty"`
	From    time.Time `json:"from,omitzero"` // begun on this day or later, UTC
	To      time.Time `json:"to,omitzero"`   // begun on this day or before

	Set  string `json:"set,omitempty"`  // file of the implement; "" = not said here
	Farm string `json:"farm,omitempty"` // "" = not said here
	By   string `json:"by,omitempty"`   // driver; "" = not said here
}

// ruleColumns are the names of the columns of a table of rules.
var ruleColumns = []string{"folder", "machine", "driver", "from", "to", "set", "farm", "by"}

// ReadRules reads a table of rules, a line each. dir is its folder, from which sets are named.
func ReadRules(text []byte, dir string) (Rules, error) {
	rows, lines, err := table(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")), ruleColumns)
	if err != nil {
		return nil, err
	}
	var all Rules
	for i, row := range rows {
		r := Rule{Folder: strings.Trim(row["folder"], "/"), Machine: row["machine"], Driver: row["driver"], Set: row["set"], Farm: row["farm"], By: row["by"]}
		for name, to := range map[string]*time.Time{"from": &r.From, "to": &r.To} {
			if row[name] == "" {
				continue
			}
			if *to, err = time.Parse(time.DateOnly, row[name]); err != nil {
				return nil, fmt.Errorf("line %d: %s %s: must be a day like 2026-04-14", lines[i], name, geo.Shown(row[name]))
			}
		}
		for _, one := range []string{r.Folder, r.Machine, r.Driver} {
			if _, err := path.Match(one, ""); err != nil {
				return nil, fmt.Errorf("line %d: %s: brackets must be closed", lines[i], geo.Shown(one))
			}
		}
		if r.Set == "" && r.Farm == "" && r.By == "" {
			return nil, fmt.Errorf("line %d: says neither set nor farm nor by", lines[i])
		}
		if r.Set != "" && !filepath.IsAbs(r.Set) {
			r.Set = filepath.Join(dir, filepath.FromSlash(r.Set))
		}
		all = append(all, r)
	}
	return all, nil
}

// fits says whether a rule is about driving that began then.
func (r Rule) fits(folder, machine, driver string, begun time.Time) bool {
	day := begun.Truncate(24 * time.Hour)
	if !r.From.IsZero() && (begun.IsZero() || day.Before(r.From)) || !r.To.IsZero() && (begun.IsZero() || day.After(r.To)) {
		return false
	}
	return within(r.Folder, folder) && like(r.Machine, machine) && like(r.Driver, driver)
}

// like says whether a text has a pattern; "" fits all.
func like(pattern, text string) bool {
	ok, _ := path.Match(strings.ToLower(pattern), strings.ToLower(text)) // patterns were looked at when they were read
	return pattern == "" || ok
}

// within says whether a folder or one above it has a pattern.
func within(pattern, folder string) bool {
	for ; folder != "." && folder != "/" && folder != ""; folder = path.Dir(folder) {
		if like(pattern, folder) {
			return true
		}
	}
	return pattern == ""
}

// about is what is known of a log's driving: by the list that names it, else by rules, else by itself.
func (r Rules) about(l Log, told geo.Told, begun time.Time) (set string, who geo.Told) {
	who = geo.Told{Machine: cmp.Or(l.Machine, told.Machine), Driver: cmp.Or(l.Driver, told.Driver)}
	set, farm, by := l.Set, l.Farm, l.Driver
	for _, one := range r {
		if one.fits(l.Folder(), who.Machine, who.Driver, begun) {
			set, farm, by = cmp.Or(set, one.Set), cmp.Or(farm, one.Farm), cmp.Or(by, one.By)
		}
	}
	who.Driver = cmp.Or(by, who.Driver)
	top, _, below := strings.Cut(l.Name, "/")
	if !below {
		top = ""
	}
	who.Farm = cmp.Or(farm, told.Farm, top)
	return set, who
}
