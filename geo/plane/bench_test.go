package plane

import (
	"fmt"
	"math"
	"testing"
	"time"

	"balk/testdata/check"
)

// operationFault checks the balance of an answer: field = missed + worked once,
// twice, ..., the depths sum up to the ground of all passes, and the polygons
// hold the ground that was counted.
func operationFault(op operation, answer Answer) error {
	field, swath := Ring(op.outlines[0].Line).Area(), 0.0
	for _, o := range op.outlines[1:] {
		swath += Ring(o.Line).Area()
	}
	var inField, worked float64
	for class := missedClass; class < outsideClass; class++ {
		inField += answer.Area[class]
		worked += float64(class-missedClass) * answer.Area[class]
	}
	for class := outsideClass; class < outsideClass+4; class++ {
		worked += float64(class-outsideClass+1) * answer.Area[class]
	}
	// The deepest classes hold four and more; the operation has no such place,
	// else the second sum would fall short.
	tolerance := 1e-9 * field
	if math.Abs(inField-field) > tolerance {
		return fmt.Errorf("ground of the field %.6f m², counted %.6f m²", field, inField)
	}
	if math.Abs(worked-swath) > tolerance {
		return fmt.Errorf("ground of all passes %.6f m², counted %.6f m²", swath, worked)
	}
	if answer.Area[missedClass] <= 0 || answer.Area[twiceClass] <= 0 {
		return fmt.Errorf("missed %.3f m², worked twice %.3f m²: both happen in this operation", answer.Area[missedClass], answer.Area[twiceClass])
	}
	for i, want := range []float64{answer.Area[missedClass], doubleArea(answer.Area)} {
		if i < len(answer.Layers) {
			if got := layerArea(answer.Layers[i]) + answer.Dropped[i]; math.Abs(got-want) > layerTolerance(answer.Layers[i]) {
				return fmt.Errorf("layer %d: polygons %.6f m², counted %.6f m²", i, got, want)
			}
		}
	}
	return nil
}

func TestOperationBalances(t *testing.T) {
	for seed := range uint64(3) {
		op := newOperation(4000, seed)
		answer := mustArrange(t, op.outlines, Question{Classify: balanceClass, Layers: []ClassSet{missedLayer, doubleLayer}})
		if err := operationFault(op, answer); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
		for i, layer := range answer.Layers {
			if err := invalid(layer); err != nil {
				t.Errorf("seed %d: layer %d: %v", seed, i, err)
			}
		}
	}
}

// The check of the benchmark must be able to fail.
func TestOperationFaultCanFail(t *testing.T) {
	op := newOperation(1500, 1)
	answer := mustArrange(t, op.outlines, Question{Classify: balanceClass, Layers: []ClassSet{missedLayer, doubleLayer}})
	if err := operationFault(op, answer); err != nil {
		t.Fatal(err)
	}
	wrong := answer
	wrong.Area[missedClass] += 0.01
	if operationFault(op, wrong) == nil {
		t.Error("0.01 m² too much missed ground: not noticed")
	}
	wrong = answer
	wrong.Area[onceClass] -= 0.01
	wrong.Area[missedClass] += 0.01
	if operationFault(op, wrong) == nil {
		t.Error("0.01 m² worked ground counted as missed: not noticed")
	}
	wrong = answer
	wrong.Layers = [][]Polygon{answer.Layers[0][1:], answer.Layers[1]}
	if operationFault(op, wrong) == nil {
		t.Error("a missed strip left out of the layer: not noticed")
	}
}

// reportEach says what each of n things cost, by the clock and of processors.
func reportEach(b *testing.B, n int, thing string, used time.Duration) {
	each := float64(b.N) * float64(n)
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/each, "ns/"+thing)
	b.ReportMetric(float64(used.Nanoseconds())/each, "cpu-ns/"+thing)
}

// BenchmarkArrange measures field, passes, missed and double layer together.
// ns/fix is the time for one logged position.
func BenchmarkArrange(b *testing.B) {
	for _, fixes := range []int{15_000, 150_000, 1_500_000} {
		b.Run(fmt.Sprintf("fixes=%d", fixes), func(b *testing.B) {
			op := newOperation(fixes, 1)
			q := Question{Classify: balanceClass, Layers: []ClassSet{missedLayer, doubleLayer}}
			var answer Answer
			used := check.CPUTime(b)
			for b.Loop() {
				answer = mustArrange(b, op.outlines, q)
			}
			reportEach(b, op.fixes, "fix", check.CPUTime(b)-used)
			if err := operationFault(op, answer); err != nil {
				b.Fatal(err)
			}
			b.ReportMetric(float64(answer.Crossings), "crossings")
		})
	}
}

// BenchmarkArrangeAreas asks for areas only.
func BenchmarkArrangeAreas(b *testing.B) {
	for _, fixes := range []int{15_000, 150_000} {
		b.Run(fmt.Sprintf("fixes=%d", fixes), func(b *testing.B) {
			op := newOperation(fixes, 1)
			var answer Answer
			for b.Loop() {
				answer = mustArrange(b, op.outlines, Question{Classify: balanceClass})
			}
			if err := operationFault(op, answer); err != nil {
				b.Fatal(err)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(op.fixes), "ns/fix")
		})
	}
}
