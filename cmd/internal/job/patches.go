package job

import (
	"context"
	"errors"
	"os"
	"strings"

	"balk/coverage"
	"balk/geo"
	"balk/geo/plane"
	"balk/geo/read"
)

// patches reads the patches that Target names; nil: it names no file. They are read as boundaries are, from the layers that --target-layer or
// else --layer names.
func (r *Report) patches(ctx context.Context, call *Call) ([]geo.Field, error) {
	file := r.Spec.Target.File()
	if file == "" {
		return nil, nil
	}
	reading := Reading{Mend: r.Spec.Mend, Large: r.Spec.Large, Taking: r.Spec.Taking}
	if layer := r.Spec.TargetLayer; layer != "" {
		reading.Layers = []string{layer}
	} else if sameFile(file, r.Spec.Boundary) {
		return nil, wrong("%s holds the fields: patches stand in a file of their own, or in a layer of it that --target-layer names", file)
	}
	patches, findings, err := call.fields(ctx, file, reading)
	r.Findings = append(r.Findings, findings...)
	if fault, ok := errors.AsType[*read.FileError](err); ok && fault.Other() {
		told := *fault
		told.Hint = "patches are outlines, as boundaries are: draw one around each place, as wide as the plants may stand"
		return nil, &told
	}
	if fault, ok := errors.AsType[*read.CallError](err); ok && r.Spec.TargetLayer != "" {
		return nil, &WrongCall{errors.New(strings.Replace(fault.What, "--layer", "--target-layer", 1))}
	}
	if err != nil {
		return nil, sorted(err)
	}
	if layer := r.Spec.TargetLayer; layer != "" && call.opened.Unmet(reading.Layers) != "" {
		return nil, wrong("%s holds no layer %q (--target-layer)", file, layer)
	}
	return patches, nil
}

func sameFile(a, b string) bool {
	one, err := os.Stat(a)
	if err != nil {
		return false
	}
	other, err := os.Stat(b)
	return err == nil && os.SameFile(one, other)
}

// lookIn puts into c what was missed in patches.
func (r *Report) lookIn(ctx context.Context, patches []geo.Field, c *coverage.Result) error {
	if len(patches) == 0 {
		return nil
	}
	box := plane.EmptyBox()
	for _, p := range c.Layers.Field {
		box = box.Extend(p[0]...)
	}
	var near []plane.Polygon
	for _, f := range patches {
		for _, p := range f.OnPlane(c.Local) {
			if p[0].Bounds().Meets(box) {
				near = append(near, p)
			}
		}
	}
	if len(near) == 0 {
		r.Findings = append(r.Findings, geo.Finding{File: r.Spec.Target.File(), What: "no patch lies on the field"})
		return nil
	}
	// Patches that overlap are ground once.
	near, err := plane.Union(ctx, near, nil)
	if err != nil {
		return err
	}
	return c.LookIn(ctx, near)
}
