package job

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"balk/cmd/internal/farm"
	"balk/coverage/plan"

	"github.com/paulmach/orb"
)

// BenchmarkSeason lists and shows a farm of generated fields with ten operations each, and says how large its store is. What was worked
// out across a field's operations is kept, as it is after the first show.
func BenchmarkSeason(b *testing.B) {
	report := json.RawMessage(`{"strips":["` + strings.Repeat("a strip, generated ", 5000) + `"]}`) // 95 kB, as for a field of some hectares
	for _, fields := range []int{20, 200} {
		dir := b.TempDir()
		f, err := farm.OpenToChange(b.Context(), dir)
		if err != nil {
			b.Fatal(err)
		}
		for i := range 10 * fields {
			x := 11 + float64(i%fields)/100
			e := farm.Entry{
				Field: farm.Field{Name: fmt.Sprintf("Field %d (generated)", i%fields), Boundary: orb.MultiPolygon{{{{x, 48}, {x + 0.003, 48}, {x + 0.003, 48.002}, {x, 48.002}, {x, 48}}}}},
				Set:   farm.Set{Name: fmt.Sprintf("set %d", i%5), Description: fmt.Sprintf("width = %d\n", i%5+1)}, Begin: noon.AddDate(0, 0, i/fields), End: noon.AddDate(0, 0, i/fields).Add(time.Hour),
				Work: farm.Work{Does: []string{"cuts"}, Driver: fmt.Sprintf("driver %d", i%7)}, Sum: farm.Sum{Area: 4e4, Missed: 100, Worked: 39900, Seconds: 3600},
				Options: json.RawMessage(`{"work":{"width":6}}`), Program: "generated", Form: 1, Report: report,
			}
			if _, err := f.Add(b.Context(), e); err != nil {
				b.Fatal(err)
			}
		}
		if err := f.Close(); err != nil {
			b.Fatal(err)
		}
		store, err := os.Stat(filepath.Join(dir, farm.File))
		if err != nil {
			b.Fatal(err)
		}
		b.Run(fmt.Sprintf("list/fields=%d", fields), func(b *testing.B) {
			for b.Loop() {
				rep, err := ListSeason(b.Context(), dir, plan.Rates{Hour: 60})
				if err != nil || len(rep.Operations) != 10*fields || len(rep.Fields) != fields || len(rep.Totals.Drivers) != 7 {
					b.Fatalf("%d operations on %d fields (%v)", len(rep.Operations), len(rep.Fields), err)
				}
			}
			b.ReportMetric(float64(store.Size())/float64(10*fields), "bytes/operation")
		})
		b.Run(fmt.Sprintf("show/fields=%d", fields), func(b *testing.B) {
			for b.Loop() {
				rep, err := ShowSeason(b.Context(), SeasonShow{Farm: dir, Field: "Field 7 (generated)"}, noon, nil)
				if err != nil || len(rep.Operations) != 10 {
					b.Fatalf("%d operations (%v)", len(rep.Operations), err)
				}
			}
		})
	}
}
