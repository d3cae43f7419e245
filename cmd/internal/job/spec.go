package job

import (
	"context"
	"errors"
	"fmt"
	"time"
	_ "time/tzdata" // time zones by name, wherever it runs

	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/read"
	"balk/geo/workers"
)

// Spec says what to check.
type Spec struct {
	Boundary string            `json:"boundary"`           // file of the field boundaries; required
	Tracks   []string          `json:"tracks"`             // files of the operation's tracks; at least one
	Field    string            `json:"field,omitempty"`    // number of the field, or name=NAME; "" = the only one in the file
	Columns  map[string]string `json:"columns,omitempty"`  // names of a table's columns by meaning, where they are not the usual ones; see read.TrackOptions
	Days     Days              `json:"days,omitzero"`      // only what was driven on them
	Together bool              `json:"together,omitempty"` // operations far apart are judged as one
	LogZone  string            `json:"logZone,omitempty"`  // time zone of logged times that name none, such as Europe/Berlin; "" = UTC
	Frame    Frame             `json:"frame,omitempty"`    // what the logs are in
	// WorkingValues are the values of the logs' work-state column that mean working, where they are not words that are known.
	WorkingValues []string `json:"workingValues,omitempty"`
	Reading
	Weather Station `json:"weather,omitzero"` // what the weather was, to tell what it did after the work
	Plan    string  `json:"plan,omitempty"`   // file of planned lines; strips then name those not driven
	Farm    string  `json:"farm,omitempty"`   // folder of a farm whose corrections are honoured; "" = none
	Out     string  `json:"out,omitempty"`    // folder for layers, map and report; "" = write no files
	Drawn
	// Implement is the machine as file and flags describe it together, the one that all else is
	// told from: Work has its width, overlap, sections, mount and radius (see Use).
	Implement rig.Implement `json:"implement,omitzero"`
	Work      drive.Work    `json:"work"` // what was worked with, and the limits
	Going
	inTurn          bool  // Days are those of one operation of several, which are all judged
	bar             int   // the bar of a set with several that is judged, from 0
	operationOfFarm int64 // whose corrections are meant beside those of the field; 0 = of none
}

// Reading says how files are read where they leave it open.
type Reading struct {
	Mend  bool `json:"mend,omitempty"`  // mend boundary rings that cross themselves instead of refusing them
	Close bool `json:"close,omitempty"` // the boundary is a closed line or a walked track
	Large bool `json:"large,omitempty"` // the field really is larger than largest
	read.Taking
}

// fields reads a file of boundaries.
func (c *Call) fields(ctx context.Context, path string, r Reading) ([]geo.Field, []geo.Finding, error) {
	fields, findings, err := found(ctx, func() ([]geo.Field, []geo.Finding, error) {
		return read.Fields(path, read.Options{Mend: r.Mend, Close: r.Close, Taking: r.Taking, Files: &c.opened})
	})
	if ring, ok := errors.AsType[*geo.RingError](err); ok && !r.Mend && (ring.Rule == geo.RingSimple || ring.Rule == geo.RingApart || ring.Rule == geo.RingInside) {
		err = fmt.Errorf("%w\nhint: --mend mends it", err)
	}
	return fields, findings, err
}

// found is what a reader gives, see workers.Until.
func found[T any](ctx context.Context, reader func() ([]T, []geo.Finding, error)) ([]T, []geo.Finding, error) {
	type file struct {
		list     []T
		findings []geo.Finding
	}
	f, err := workers.Until(ctx, func() (f file, err error) {
		f.list, f.findings, err = reader()
		return f, err
	})
	return f.list, f.findings, err
}

// met refuses layers that were named and are in none of the files.
func (c *Call) met(r Reading) error {
	if name := c.opened.Unmet(r.Layers); name != "" {
		return wrong("no file holds a layer %q (--layer)", name)
	}
	return nil
}

// logZone is the zone of LogZone; nil: UTC.
func (s Spec) logZone() (*time.Location, error) { return zoneOf("log", s.LogZone) }

// zoneOf is a time zone by its name; nil for none named.
func zoneOf(what, name string) (*time.Location, error) {
	if name == "" {
		return nil, nil
	}
	zone, err := time.LoadLocation(name)
	if err != nil {
		return nil, fmt.Errorf("zone of the %s: %w", what, err)
	}
	return zone, nil
}

// Use makes im the machine of the job; its width is one that from tells. With
// drive.WidthLogged the width is found when the log is read.
func (s *Spec) Use(im rig.Implement, from drive.WidthSource) {
	s.Implement, s.Work = im, s.Work.With(im.OfBar(0))
	if s.Work.WidthFrom = from; from == drive.WidthLogged {
		s.Work.Width = 0
	}
}

// settle takes the width from the log where that is asked for, so that one machine stands
// in all of the spec.
func (s *Spec) settle(tracks []geo.Track) error {
	w, err := s.Work.WithLogged(tracks)
	if err != nil {
		return err
	}
	if err := w.Validate(); err != nil {
		return &WrongCall{err} // of the overlap, beside a width found in the log
	}
	if s.Work = w; len(s.Implement.Bars) == 0 {
		s.Implement = s.Implement.OfWidth(w.Width)
	}
	return nil
}

// Validate says what is wrong with s; it opens no files.
func (s Spec) Validate() error {
	if err := s.Drawn.Validate(); err != nil {
		return err
	}
	if s.Boundary == "" {
		return errors.New("no file of field boundaries named")
	}
	if len(s.Tracks) == 0 {
		return errors.New("no track named")
	}
	for i, t := range s.Tracks {
		if t == "" {
			return fmt.Errorf("track %d of %d has no name", i+1, len(s.Tracks))
		}
	}
	if err := s.Going.validate(); err != nil {
		return err
	}
	if err := s.Days.validate(); err != nil {
		return err
	}
	if _, err := s.logZone(); err != nil {
		return err
	}
	if err := s.Weather.Validate(); err != nil {
		return err
	}
	if err := s.Frame.validate(); err != nil {
		return err
	}
	w := s.Work
	if w.WidthFrom == drive.WidthLogged { // not known yet
		w.Width, w.Sections = rig.MaxWidth, nil
	}
	return w.Validate()
}

// WrongCall is a fault of the call, not of the data.
type WrongCall struct{ Err error }

func (e *WrongCall) Error() string { return e.Err.Error() }
func (e *WrongCall) Unwrap() error { return e.Err }

func wrong(format string, args ...any) error { return &WrongCall{fmt.Errorf(format, args...)} }
