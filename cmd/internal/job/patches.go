package job

import (
	"context"

	"balk/coverage"
	"balk/geo"
	"balk/geo/plane"
)

// patches reads the patches that Target names, if it names a file; what was missed in them is put into c.
func (r *Report) patches(ctx context.Context, c *coverage.Result, call *Call) error {
	file := r.Spec.Target.File()
	if file == "" {
		return nil
	}
	reading := Reading{Mend: r.Spec.Mend, Large: r.Spec.Large}
	reading.Taking = r.Spec.Taking
	fields, findings, err := call.fields(ctx, file, reading)
	r.Findings = append(r.Findings, findings...)
	if err != nil {
		return sorted(err)
	}
	if err := call.met(r.Spec.Reading); err != nil {
		return err
	}
	box := plane.EmptyBox()
	for _, p := range c.Layers.Field {
		box = box.Extend(p[0]...)
	}
	var near []plane.Polygon
	for _, f := range fields {
		for _, p := range f.OnPlane(c.Local) {
			if p[0].Bounds().Meets(box) {
				near = append(near, p)
			}
		}
	}
	if len(near) == 0 {
		r.Findings = append(r.Findings, geo.Finding{File: file, What: "no patch lies on the field"})
		return nil
	}
	// Patches that overlap are ground once.
	if near, err = plane.Union(ctx, near, nil); err != nil {
		return err
	}
	return c.LookIn(ctx, near)
}
