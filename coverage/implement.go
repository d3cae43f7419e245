package coverage

import "fmt"

// Implement describes a machine, so that it need not be described again for every
// field. The zero value of a field means what its comment says.
type Implement struct {
	Name    string  `json:"name,omitempty"`
	Width   float64 `json:"width"`             // m, working width; required
	Overlap float64 `json:"overlap,omitempty"` // m, planned lap between neighbouring passes
	Mount   Mount   `json:"mount,omitzero"`    // where the bar is, seen from the antenna
}

// Validate says what is wrong with im.
func (im Implement) Validate() error {
	if err := im.On(Work{}).Validate(); err != nil {
		return fmt.Errorf("implement %q: %w", im.Name, err)
	}
	return nil
}

// On puts the implement into w: width, overlap and mount.
func (im Implement) On(w Work) Work {
	w.Width, w.Overlap, w.Mount = im.Width, im.Overlap, im.Mount
	return w
}
