package job

import (
	"errors"
	"fmt"

	"balk/coverage"
)

// Spec says what to check.
type Spec struct {
	Boundary string            `json:"boundary"`          // file of the field boundaries; required
	Tracks   []string          `json:"tracks"`            // files of the operation's tracks; at least one
	Field    string            `json:"field,omitempty"`   // name or number of the field; "" = the only one in the file
	Columns  map[string]string `json:"columns,omitempty"` // names of a table's columns by meaning, where they are not the usual ones; see read.TrackOptions
	Mend     bool              `json:"mend,omitempty"`    // mend boundary rings that cross themselves instead of refusing them
	Plan     string            `json:"plan,omitempty"`    // GeoJSON file of planned lines; strips then name those not driven
	Out      string            `json:"out,omitempty"`     // folder for layers, map and report; "" = write no files
	Work     coverage.Work     `json:"work"`              // the implement and the limits
}

// Validate says what is wrong with s; it opens no files.
func (s Spec) Validate() error {
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
	return s.Work.Validate()
}

// WrongCall is a fault of the call, not of the data.
type WrongCall struct{ Err error }

func (e *WrongCall) Error() string { return e.Err.Error() }
func (e *WrongCall) Unwrap() error { return e.Err }

func wrong(format string, args ...any) error { return &WrongCall{fmt.Errorf(format, args...)} }
