package job

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"time"

	"balk/coverage/drive"
	"balk/coverage/drying"
	"balk/export/words"
	"balk/geo"
	"balk/geo/read"

	"github.com/paulmach/orb"
)

// Station says which weather to read beside the log of the work, and how.
type Station struct {
	File       string  `json:"file"`                 // the station's log; "" = none
	Altitude   float64 `json:"altitude,omitempty"`   // m above the sea
	WindHeight float64 `json:"windHeight,omitempty"` // m above ground; 0 = 2
	Zone       string  `json:"zone,omitempty"`       // of its times that name none, and of its days; "" = UTC
	Begin      bool    `json:"begin,omitempty"`      // a time is the begin of its reading, not its end
	Rain       float64 `json:"rain,omitempty"`       // mm that count as rain; 0 = 1
	Base       float64 `json:"base,omitempty"`       // °C above which warmth is summed
}

// Weather is what a station read after the last pass of an operation, and before it. Sums are those of drying.Since.
type Weather struct {
	After       time.Time  `json:"after"`               // the end of the last pass
	Until       time.Time  `json:"until"`               // the end of the station's log
	FirstRain   *time.Time `json:"firstRain,omitempty"` // absent: none until then
	Demand      float64    `json:"demand"`              // mm the air asked until it rained, or until the end of the log
	DemandFirst float64    `json:"demandFirst"`         // the same since the end of the first pass
	DemandMean  float64    `json:"demandMean"`          // the same since each pass's own end, weighted by its ground
	Rain        float64    `json:"rain"`                // mm until the end of the log
	RainBefore  float64    `json:"rainBefore"`          // mm in the 72 hours before the last pass
	BeforeKnown bool       `json:"beforeKnown"`         // of all of these hours
	Warmth      float64    `json:"warmth"`              // degree days above Station.Base until the end of the log
	Base        float64    `json:"base,omitempty"`      // °C, Station.Base
	Least       float64    `json:"least,omitempty"`     // mm that counted as rain; 0 = said by no older result
	Holes       float64    `json:"holes"`               // hours without a reading
	Taken       []string   `json:"taken,omitempty"`     // what was not read, and taken by rule
}

// Validate says what is wrong with s.
func (s Station) Validate() error {
	if _, err := s.zone(); err != nil {
		return err
	}
	if s.File == "" && s != (Station{}) {
		return fmt.Errorf("the station is described, and no file of its weather is named (--weather)")
	}
	if s.Rain < 0 || math.IsNaN(s.Rain) || math.IsInf(s.Rain, 0) {
		return fmt.Errorf("rain of %g mm: 0 or more is wanted", s.Rain)
	}
	return nil
}

// LeastRain is what counts as rain, mm.
func (s Station) LeastRain() float64 { return cmp.Or(s.Rain, drying.UsualRain) }

func (s Station) zone() (*time.Location, error) { return zoneOf("weather", s.Zone) }

// stationLog is what a station read, as a field sees it.
type stationLog struct {
	drying.Log
	begin int64 // of its first reading, s since 1970 UTC
	end   int64 // of its last one
	least drying.Least
	file  string
}

// read reads the station's log.
func (s Station) read(ctx context.Context, field geo.Field, call *Call) (stationLog, []geo.Finding, error) {
	zone, err := s.zone()
	if err != nil {
		return stationLog{}, nil, &WrongCall{err}
	}
	readings, findings, err := found(ctx, func() ([]geo.Weather, []geo.Finding, error) {
		return read.Weather(s.File, read.WeatherOptions{Zone: zone, Begin: s.Begin, Files: &call.opened})
	})
	if err != nil {
		return stationLog{}, findings, sorted(err)
	}
	at := orb.MultiPolygon(field.Boundary).Bound().Center()
	log, err := drying.NewLog(drying.Station{Lon: at[0], Lat: at[1], Altitude: s.Altitude, WindHeight: s.WindHeight}, readings)
	if err != nil {
		return stationLog{}, findings, fmt.Errorf("%s: %w", s.File, err)
	}
	return stationLog{log, readings[0].Start, readings[len(readings)-1].End, drying.Least{Rain: s.LeastRain(), Base: s.Base}, s.File}, findings, nil
}

// IsWeather tells whether a path holds the log of a weather station.
func (c *Call) IsWeather(ctx context.Context, path string) bool {
	c = c.ready()
	_, _, err := found(ctx, func() ([]geo.Weather, []geo.Finding, error) {
		return read.Weather(path, read.WeatherOptions{Zone: time.UTC, Files: &c.opened})
	})
	return err == nil
}

// weather reads the station's log and sums it from the passes on.
func (r *Report) weather(ctx context.Context, field geo.Field, call *Call) error {
	if r.Spec.Weather.File == "" {
		return nil
	}
	station, findings, err := r.Spec.Weather.read(ctx, field, call)
	r.Findings = append(r.Findings, findings...)
	if err != nil {
		return err
	}
	var not *geo.Finding
	if r.Weather, not = station.after(r.Passes, station.end); not != nil {
		not.Lost = true
		r.Findings = append(r.Findings, *not)
	}
	return nil
}

// lateBegin is how long after the work a log may begin and still tell of the first rain after it, s: a day, the longest of its readings.
const lateBegin = 24 * 3600

// after is the weather from passes on until an instant, s since 1970 UTC, and before them; or why it is not told.
func (s stationLog) after(passes []drive.Pass, until int64) (*Weather, *geo.Finding) {
	var first, last time.Time
	for _, p := range passes {
		if p.To.IsZero() {
			continue
		}
		if first.IsZero() || p.To.Before(first) {
			first = p.To
		}
		if p.To.After(last) {
			last = p.To
		}
	}
	end := min(s.end, until)
	switch {
	case last.IsZero():
		return nil, &geo.Finding{File: s.file, What: "the weather is not told: the log of the work has no times"}
	case s.begin > last.Unix()+lateBegin:
		return nil, &geo.Finding{File: s.file, What: fmt.Sprintf("the weather is not told: it begins %s, the work ended %s", time.Unix(s.begin, 0).UTC().Format(time.RFC3339), last.UTC().Format(time.RFC3339))}
	case end <= last.Unix():
		return nil, &geo.Finding{File: s.file, What: fmt.Sprintf("the weather is not told: it ends %s, the work %s", time.Unix(end, 0).UTC().Format(time.RFC3339), last.UTC().Format(time.RFC3339))}
	}
	since := s.After(last.Unix(), end, s.least)
	w := &Weather{After: last, Until: time.Unix(since.Until, 0).UTC(), Demand: since.DemandDry, DemandFirst: s.After(first.Unix(), end, s.least).DemandDry,
		Rain: since.Rain, RainBefore: since.RainBefore, BeforeKnown: since.BeforeKnown, Warmth: since.Warmth, Base: s.least.Base, Least: s.least.Rain, Holes: float64(since.Holes) / 3600, Taken: since.Taken.Words()}
	if !since.Dry {
		rain := time.Unix(since.FirstRain, 0).UTC()
		w.FirstRain = &rain
	}
	ground := 0.0
	for _, p := range passes {
		if !p.To.IsZero() {
			w.DemandMean += p.Area * s.After(p.To.Unix(), end, s.least).DemandDry
			ground += p.Area
		}
	}
	w.DemandMean /= ground
	return w, nil
}

// Words are the weather after an operation in a sentence.
func (w Weather) Words(l words.Language) string {
	rain := ""
	if w.Least > 0 {
		rain = l.Say(" of %g mm or more", w.Least)
	}
	text := ""
	if w.FirstRain != nil {
		text = l.Say("first rain%s %.0f h after it, drying demand of the air until then %.1f mm", rain, w.FirstRain.Sub(w.After).Hours(), w.Demand)
	} else {
		text = l.Say("no rain%s in %.0f h after it, drying demand of the air %.1f mm", rain, w.Until.Sub(w.After).Hours(), w.Demand)
	}
	if w.BeforeKnown {
		text += l.Say("; rain in the 72 h before %.1f mm", w.RainBefore)
	}
	if w.Holes >= 1 {
		text += l.Say("; the station's log lacks %.0f h of that time", w.Holes)
	}
	if w.Warmth > 0 {
		text += l.Say("; warmth above %g °C until %s: %.0f degree days", w.Base, w.Until.Format(l.Day()), w.Warmth)
	}
	return text + "."
}
