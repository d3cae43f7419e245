package job

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"balk/geo"
)

// Days chooses what was driven from one time to another, the last not included, UTC; the zero value: all.
type Days struct {
	From time.Time `json:"from,omitzero"`
	To   time.Time `json:"to,omitzero"`
}

const minuteForm = "2006-01-02T15:04"

// ParseDays reads DAY or DAY..DAY, as 2026-04-14 or 2026-04-14..2026-04-16, both days included; a day may have a time
// of day, as 2026-04-14T15:30.
func ParseDays(s string) (Days, error) {
	read := func(s string) (from, to time.Time, err error) {
		if from, err = time.Parse(time.DateOnly, s); err == nil {
			return from, from.AddDate(0, 0, 1), nil
		}
		if from, err = time.Parse(minuteForm, s); err == nil {
			return from, from.Add(time.Minute), nil
		}
		return from, to, fmt.Errorf("%q: must be a day like 2026-04-14, or two with .. between, perhaps with times as in 2026-04-14T15:30", s)
	}
	first, last, two := strings.Cut(s, "..")
	var d Days
	var err error
	if d.From, d.To, err = read(first); err == nil && two {
		_, d.To, err = read(last)
	}
	if err != nil {
		return Days{}, err
	}
	return d, d.validate()
}

func (d Days) validate() error {
	if d != (Days{}) && !d.From.Before(d.To) {
		return fmt.Errorf("days %s: the last is before the first", d)
	}
	return nil
}

// String writes d as ParseDays reads it.
func (d Days) String() string {
	if d == (Days{}) {
		return ""
	}
	from, to := d.From.Format(time.DateOnly), d.To.AddDate(0, 0, -1).Format(time.DateOnly)
	if day := 24 * time.Hour; !d.From.Equal(d.From.Truncate(day)) || !d.To.Equal(d.To.Truncate(day)) {
		from, to = d.From.Format(minuteForm), d.To.Add(-time.Minute).Format(minuteForm)
	}
	if from == to {
		return from
	}
	return from + ".." + to
}

// has says whether a session has work then.
func (d Days) has(s geo.Session) bool {
	return d == Days{} || !s.To.Before(d.From) && s.From.Before(d.To)
}

// daysOf are the days of some sessions, or the minutes where others are of the same days.
func daysOf(some, others []geo.Session) Days {
	from, to := some[0].From, some[len(some)-1].To
	d := Days{from.Truncate(24 * time.Hour), to.Truncate(24*time.Hour).AddDate(0, 0, 1)}
	if slices.ContainsFunc(others, d.has) {
		return Days{from.Truncate(time.Minute), to.Truncate(time.Minute).Add(time.Minute)}
	}
	return d
}

// operation keeps what the spec chooses of the days, and refuses more than one operation on the field: worked
// twice, missed and hours of two have no meaning together.
func (r *Report) operation(field geo.Field, tracks []geo.Track) ([]geo.Track, error) {
	width := r.Spec.Work.Width
	if width == 0 {
		width = minNear * 3 // not known yet
	}
	sessions, of := geo.Sessions(tracks, width, field.Boundary.Bound())
	if r.Spec.Days != (Days{}) {
		var err error
		if tracks, err = r.onDays(tracks, sessions, of); err != nil {
			return nil, err
		}
		sessions, _ = geo.Sessions(tracks, width, field.Boundary.Bound())
	}
	if len(sessions) < 2 || r.Spec.Together {
		return tracks, nil
	}
	operations := geo.Operations(sessions)
	n := operations[len(operations)-1] + 1
	if n == 1 {
		r.Findings = append(r.Findings, geo.Finding{File: sources(tracks), What: fmt.Sprintf("driven in %d sessions from %s to %s: taken as one operation, with no break of more than a week and little ground worked again",
			len(sessions), minute(sessions[0].From), minute(sessions[len(sessions)-1].To))})
		return tracks, nil
	}
	var list strings.Builder
	var before []geo.Session
	var days []Days
	for k, from := 0, 0; k < n; k++ {
		to := from
		for to < len(sessions) && operations[to] == k {
			to++
		}
		one := sessions[from:to]
		fmt.Fprintf(&list, "  %d  %s to %s UTC  %.2f km", k+1, minute(one[0].From), minute(one[len(one)-1].To), wayOf(one)/1000)
		if k > 0 {
			fmt.Fprintf(&list, "  %.0f %% on the same ground as the one before", 100*one[0].Again)
		}
		list.WriteByte('\n')
		days = append(days, daysOf(one, slices.Concat(before, sessions[to:])))
		before, from = sessions[:to], to
	}
	return nil, &WrongCall{&several{days, fmt.Sprintf("the tracks are of %d operations on %q, more than a week apart or over the same ground again after a night:\n%shint: choose one with --days %s, or judge all as one with --together",
		n, r.Field.Shown(), list.String(), days[n-1])}}
}

// several is the error of tracks that are of several operations.
type several struct {
	days []Days // of each
	what string
}

func (e *several) Error() string { return e.what }

// onDays keeps the sessions that have work on the days chosen.
func (r *Report) onDays(tracks []geo.Track, sessions []geo.Session, of [][]int) ([]geo.Track, error) {
	var list []string
	left := 0
	for _, s := range sessions {
		list = append(list, fmt.Sprintf("%s to %s UTC", minute(s.From), minute(s.To)))
	}
	var kept []geo.Track
	timeless := 0
	for i, t := range tracks {
		was := t.Fixes()
		t = t.Cut(func(k int) bool {
			if of[i][k] < 0 {
				timeless++
				return false
			}
			return r.Spec.Days.has(sessions[of[i][k]])
		}, true)
		if left += was - t.Fixes(); t.Fixes() > 0 {
			kept = append(kept, t)
		}
	}
	if len(kept) == 0 {
		if len(list) == 0 {
			return nil, wrong("--days %s: the tracks have no times", r.Spec.Days)
		}
		return nil, wrong("--days %s: nothing was driven on %q then; it was:\n  %s", r.Spec.Days, r.Field.Shown(), strings.Join(list, "\n  "))
	}
	r.Fixes -= left
	if left > timeless && !r.Spec.inTurn {
		r.Findings = append(r.Findings, geo.Finding{File: sources(tracks), What: fmt.Sprintf("%d fixes of other days than %s: left out, as asked for", left-timeless, r.Spec.Days)})
	}
	if timeless > 0 {
		r.Findings = append(r.Findings, geo.Finding{File: sources(tracks), Lost: true, What: fmt.Sprintf("%d fixes have no time that says whether they were driven on %s: left out", timeless, r.Spec.Days)})
	}
	return kept, nil
}

func wayOf(s []geo.Session) (way float64) {
	for _, one := range s {
		way += one.Way
	}
	return way
}

func minute(t time.Time) string { return t.Format("2006-01-02 15:04") }
