package plane

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"balk/testdata/check"
)

// TestAgainstClipper2 puts the same outlines to Clipper2 and compares areas, and processor time in one run. BALK_CLIPPER names a folder in
// which npm has installed clipper2-wasm, Clipper2 compiled to WebAssembly, which Node runs; BALK_CLIPPER_LARGE adds 1,500,000 fixes.
func TestAgainstClipper2(t *testing.T) {
	folder := os.Getenv("BALK_CLIPPER")
	if folder == "" {
		t.Skip("compares with Clipper2, with BALK_CLIPPER")
	}
	var about struct{ Version string }
	if text, err := os.ReadFile(filepath.Join(folder, "node_modules", "clipper2-wasm", "package.json")); err != nil {
		t.Fatal(err)
	} else if err := json.Unmarshal(text, &about); err != nil {
		t.Fatal(err)
	}
	script, err := filepath.Abs(filepath.Join("testdata", "clipper.mjs"))
	if err != nil {
		t.Fatal(err)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	sizes := []int{1_500, 15_000, 150_000}
	if os.Getenv("BALK_CLIPPER_LARGE") != "" {
		sizes = append(sizes, 1_500_000)
	}
	for _, fixes := range sizes {
		t.Run(fmt.Sprintf("fixes=%d", fixes), func(t *testing.T) {
			op := newOperation(fixes, 1)
			rings := make([][]float64, len(op.outlines))
			for i, o := range op.outlines {
				for _, p := range o.Line {
					rings[i] = append(rings[i], p.X, p.Y)
				}
			}
			in, err := json.Marshal(rings)
			if err != nil {
				t.Fatal(err)
			}
			var want struct{ Missed, Double, Seconds float64 }
			theirs := math.Inf(1)
			for range 3 {
				node := exec.CommandContext(t.Context(), "node", "--max-old-space-size=8000", script)
				node.Dir, node.Stdin, node.Stderr = folder, bytes.NewReader(in), os.Stderr
				out, err := node.Output()
				if err != nil {
					t.Fatal(err)
				}
				if err := json.Unmarshal(out, &want); err != nil {
					t.Fatal(err)
				}
				theirs = min(theirs, want.Seconds)
			}

			q := Question{Classify: balanceClass, Layers: []ClassSet{missedLayer, doubleLayer}, Workers: 1}
			var answer Answer
			ours := time.Duration(math.MaxInt64)
			for range 3 {
				start := check.CPUTime(t)
				answer = mustArrange(t, op.outlines, q)
				ours = min(ours, check.CPUTime(t)-start)
			}
			if err := operationFault(op, answer); err != nil {
				t.Fatal(err)
			}
			missed, double := answer.Area[missedClass], doubleArea(answer.Area)
			t.Logf("clipper2-wasm %s in Node: %.3f s; here, with polygons: %v (%.0f times); %d fixes; missed %.4f m² (Clipper2 %.4f), double %.4f m² (Clipper2 %.4f)",
				about.Version, theirs, ours.Round(time.Microsecond), theirs/ours.Seconds(), op.fixes, missed, want.Missed, double, want.Double)
			field := Ring(op.outlines[0].Line).Area()
			for name, pair := range map[string][2]float64{"missed": {missed, want.Missed}, "double": {double, want.Double}} {
				if math.Abs(pair[0]-pair[1]) > 1e-6*field {
					t.Errorf("%s: %.6f m², Clipper2 says %.6f m²", name, pair[0], pair[1])
				}
			}
		})
	}
}
