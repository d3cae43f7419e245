package job

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"balk/coverage/plan"
)

// Filled is what the report in a folder that balk filled was made from. Files are found from where that was run.
type Filled struct {
	path   string
	spec   json.RawMessage
	ranked []plan.Candidate
}

// OpenFilled reads the report of a folder that is all that a call names; nil: it names other things.
func (c *Call) OpenFilled(args []string) (*Filled, error) {
	if len(args) != 1 {
		return nil, nil
	}
	dir := args[0]
	path := filepath.Join(dir, reportFile)
	info, err := os.Stat(dir)
	if err == nil && !info.IsDir() {
		return nil, nil
	}
	var text []byte
	f, err := c.ready().opened.Open(path)
	if err == nil {
		defer f.Close()
		text, err = io.ReadAll(f)
	}
	if err != nil {
		return nil, wrong("%s: no folder that balk check or balk compare filled: %w", dir, err)
	}
	var r struct {
		Spec       json.RawMessage  `json:"spec"`
		Candidates []plan.Candidate `json:"candidates"`
	}
	if err := json.Unmarshal(text, &r); err != nil {
		return nil, fmt.Errorf("%s: %w", path, plainly(text, err))
	}
	return &Filled{path, r.Spec, r.Candidates}, nil
}

// Planned says whether balk compare filled the folder.
func (f Filled) Planned() bool { return len(f.ranked) > 0 }

// Comparison is what was compared, with no implement but that of the plan of so high a rank, from 1. A plan does not
// depend on the others.
func (f Filled) Comparison(rank int) (CompareSpec, error) {
	if rank < 1 || rank > len(f.ranked) {
		return CompareSpec{}, wrong("plan %d: must be from 1 to %d, as the comparison has", rank, len(f.ranked))
	}
	var spec CompareSpec
	if err := f.into(&spec); err != nil {
		return CompareSpec{}, err
	}
	if c := f.ranked[rank-1]; c.Stopped && !c.Spent {
		return CompareSpec{}, wrong("plan %d: its search was stopped before its end, and another call may find another plan: compare again without --seconds", rank)
	}
	spec.Seconds = 0 // this one came to its end
	number := f.ranked[rank-1].Implement
	if number < 1 || number > len(spec.Implements) {
		return CompareSpec{}, wrong("%s: does not say whose plan %d is: compare again", f.path, rank)
	}
	spec.Implements = spec.Implements[number-1 : number]
	return spec, nil
}

// Checked is what was checked. Error: the report is that of something else.
func (f Filled) Checked() (Spec, error) {
	var tracks struct {
		Tracks []string `json:"tracks"`
	}
	if len(f.spec) > 0 {
		if err := f.into(&tracks); err != nil {
			return Spec{}, err
		}
	}
	if len(tracks.Tracks) == 0 {
		return Spec{}, wrong("%s: a report, but not of balk check or balk compare; a folder of balk turn can be handed over as it is", f.path)
	}
	var spec Spec
	err := f.into(&spec)
	return spec, err
}

func (f Filled) into(spec any) error {
	if err := json.Unmarshal(f.spec, spec); err != nil {
		return fmt.Errorf("%s: spec: %w", f.path, err)
	}
	return nil
}
