package main

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	_ "modernc.org/sqlite"

	"balk/testdata/check"
)

// driveOn is a log of the invented acre on a day, as no other day has it.
func driveOn(t *testing.T, dir string, day int) string {
	t.Helper()
	begin := time.Date(2026, 1, 1, 6, 0, 0, 0, time.UTC).AddDate(0, 0, 10*day)
	var b strings.Builder
	b.WriteString("time,lat,lon,working\n")
	for k := range 40 {
		fmt.Fprintf(&b, "%s,48.1405,%.6f,1\n", begin.Add(time.Duration(k)*time.Second).Format(time.RFC3339), 11.5701+4e-5*float64(k))
	}
	path := filepath.Join(dir, fmt.Sprintf("day-%03d.csv", day))
	if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// wholeFarm looks into a farm: SQLite finds no fault in its store, GDAL opens it where that is there, and every operation has its result and
// its log's original. It gives the days that operations began on.
func wholeFarm(t *testing.T, dir string) map[string]int {
	t.Helper()
	text, err := exec.Command("balk", "season", "list", "--farm", dir, "--json").Output()
	if err != nil {
		t.Fatalf("season list: %v", err)
	}
	var list struct{ Operations []struct{ Begin time.Time } }
	if err := json.Unmarshal(text, &list); err != nil {
		t.Fatal(err)
	}
	days := map[string]int{}
	for _, o := range list.Operations {
		days[o.Begin.Format(time.DateOnly)]++
	}
	store := filepath.Join(dir, "farm.gpkg")
	db, err := sql.Open("sqlite", "file:"+filepath.ToSlash(store)+"?mode=rw") // a process that was killed may have left its journal
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var verdict string
	var faults, results int
	if err := db.QueryRow("PRAGMA integrity_check").Scan(&verdict); err != nil || verdict != "ok" {
		t.Fatalf("integrity: %q (%v)", verdict, err)
	}
	if err := db.QueryRow("SELECT count(*) FROM pragma_foreign_key_check").Scan(&faults); err != nil || faults > 0 {
		t.Fatalf("%d rows point to nothing (%v)", faults, err)
	}
	if err := db.QueryRow("SELECT count(*) FROM operation o JOIN result r ON r.fid = o.fid JOIN operation_log l ON l.operation = o.fid").Scan(&results); err != nil || results != len(list.Operations) {
		t.Fatalf("%d of %d operations have result and log (%v)", results, len(list.Operations), err)
	}
	rows, err := db.Query("SELECT sha256, extension FROM log")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	for rows.Next() {
		var sum, extension string
		if err := rows.Scan(&sum, &extension); err != nil {
			t.Fatal(err)
		}
		log, err := os.ReadFile(filepath.Join(dir, "logs", sum+extension))
		if got := sha256.Sum256(log); err != nil || hex.EncodeToString(got[:]) != sum {
			t.Fatalf("the log %s is not what was kept (%v)", sum, err)
		}
	}
	return days
}

// TestKilledWhileItAdds kills balk season add at drawn instants. Whatever it confirmed before stays, once, and what it did not confirm is
// there wholly or not at all. BALK_KILLS asks for more.
func TestKilledWhileItAdds(t *testing.T) {
	seed := check.Seed(t)
	draw := rand.New(rand.NewPCG(seed, 0))
	field, _ := acre(t)
	logs, dir := t.TempDir(), filepath.Join(t.TempDir(), "kept")
	add := func(day int) []string {
		return []string{"season", "add", field, driveOn(t, logs, day), "--width", "5", "--does", "cuts", "--farm", dir}
	}
	began := time.Now()
	run(t, add(0)...)
	takes := time.Since(began)
	confirmed := map[int]bool{0: true}
	n := kills(t)
	killed, lucky, i := 0, 0, 0
	for i = 1; killed < n && i < 10*n; i++ {
		c := exec.Command("balk", add(i)...)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.AfterFunc(time.Duration(draw.Int64N(int64(takes*5/4))), func() { _ = c.Process.Kill() }) // it may just have ended
		err := c.Wait()
		if exit, ok := errors.AsType[*exec.ExitError](err); ok && exit.Exited() && exit.ExitCode() > 1 {
			t.Fatalf("seed %d, call %d: ended by itself with %v", seed, i, err)
		}
		if err == nil {
			confirmed[i] = true
		} else {
			killed++
		}
		if killed%10 == 0 || killed == n {
			days := wholeFarm(t, dir)
			for k := range i + 1 {
				day := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, 10*k).Format(time.DateOnly)
				switch {
				case days[day] > 1:
					t.Fatalf("seed %d: operation %d is there %d times", seed, k, days[day])
				case confirmed[k] && days[day] == 0:
					t.Fatalf("seed %d: operation %d was confirmed and is lost", seed, k)
				case !confirmed[k] && days[day] == 1:
					confirmed[k] = true
					lucky++
				}
			}
		}
	}
	if killed < n {
		t.Errorf("seed %d: only %d of %d calls were killed, want %d", seed, killed, i, n)
	}
	run(t, add(1)...) // and it can be added to
	opensInGDAL(t, filepath.Join(dir, "farm.gpkg"))
	t.Logf("seed %d: %d of %d calls killed; %d of them after the operation was in", seed, killed, i-1, lucky)
}

// opensInGDAL has GDAL read the tables of a farm.
func opensInGDAL(t *testing.T, path string) {
	t.Helper()
	tool, err := exec.LookPath("ogrinfo")
	if err != nil {
		t.Log("GDAL (ogrinfo) is not installed: the store is not opened by it")
		return
	}
	for _, table := range []string{"field", "operation", "correction", "spot", "result"} {
		text, err := exec.Command(tool, "-so", path, table).CombinedOutput()
		if err != nil || strings.Contains(string(text), "Warning") || strings.Contains(string(text), "ERROR") || !strings.Contains(string(text), "Feature Count") {
			t.Errorf("ogrinfo %s: %v\n%s", table, err, text)
		}
	}
}

// Several processes that add to one farm, which is not there yet, take turns: all of it is there, once.
func TestManyAddToAFarm(t *testing.T) {
	field, _ := acre(t)
	logs, dir := t.TempDir(), filepath.Join(t.TempDir(), "kept")
	var wg sync.WaitGroup
	const who, each = 3, 2
	for w := range who {
		var calls [][]string
		for k := range each {
			calls = append(calls, []string{"season", "add", field, driveOn(t, logs, w*each+k), "--width", "5", "--does", "cuts", "--farm", dir})
		}
		wg.Go(func() {
			for _, call := range calls {
				if text, err := exec.Command("balk", call...).CombinedOutput(); err != nil {
					t.Errorf("%v\n%s", err, text)
				}
			}
		})
	}
	wg.Wait()
	if days := wholeFarm(t, dir); len(days) != who*each {
		t.Errorf("%d operations: %v, want %d", len(days), days, who*each)
	}
}
