package cli

import (
	"errors"
	"strconv"
	"strings"
	"time"

	"balk/cmd/internal/job"
)

// measure is a flag that holds a length or a time: a plain number, or a number
// with its unit, as "5", "5m" or "5 m". Other units are refused.
type measure struct {
	value *float64
	unit  string
}

func (m measure) String() string {
	if m.value == nil || *m.value == 0 {
		return ""
	}
	return strconv.FormatFloat(*m.value, 'g', -1, 64)
}

func (m measure) Type() string { return m.unit }

func (m measure) Set(s string) error {
	v, err := job.Number(s, m.unit)
	if err == nil {
		*m.value = v
	}
	return err
}

// span is a flag that holds a time as it is spoken of: "10m", "10 min", "1,5 h".
type span struct{ value *time.Duration }

func (d span) String() string {
	if d.value == nil || *d.value == 0 {
		return ""
	}
	return d.value.String()
}

func (d span) Type() string { return "time" }

func (d span) Set(s string) error {
	v, err := time.ParseDuration(strings.NewReplacer(" ", "", ",", ".", "min", "m").Replace(s))
	if err != nil {
		return errors.New("must be a time with its unit, as 90s, 10m or 1.5h")
	}
	*d.value = v
	return nil
}

// days is a flag that holds days.
type days struct{ value *job.Days }

func (d days) String() string {
	if d.value == nil {
		return ""
	}
	return d.value.String()
}

func (d days) Type() string { return "days" }

func (d days) Set(s string) (err error) {
	*d.value, err = job.ParseDays(s)
	return err
}
