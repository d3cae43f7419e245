package job

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"balk/cmd/internal/help"
	"balk/coverage/drive"
	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/coverage/spots"
	"balk/geo"
	"balk/geo/read"

	"github.com/paulmach/orb"
)

var update = flag.Bool("update", false, "write the form of the reports as JSON Schema into cmd/internal/help/schema.json")

// schemaOf writes the form of Go types as JSON Schema (draft 2020-12), with the comments of their fields.
type schemaOf struct {
	defs  map[string]any
	notes map[string]map[string]map[string]string // comments by folder, type and field
}

func (s *schemaOf) of(t *testing.T, r reflect.Type) map[string]any {
	switch {
	case r == reflect.TypeFor[time.Time]():
		return map[string]any{"type": "string", "format": "date-time"}
	case r == reflect.TypeFor[orb.Point]():
		return map[string]any{"type": "array", "items": map[string]any{"type": "number"}, "minItems": 2, "maxItems": 2}
	case r.Implements(reflect.TypeFor[json.Marshaler]()) || r.Kind() == reflect.Interface:
		return map[string]any{}
	}
	switch r.Kind() {
	case reflect.Bool:
		return map[string]any{"type": "boolean"}
	case reflect.String:
		return map[string]any{"type": "string"}
	case reflect.Float64, reflect.Float32:
		return map[string]any{"type": "number"}
	case reflect.Int, reflect.Int64, reflect.Int32, reflect.Uint64, reflect.Uint8, reflect.Uint32:
		return map[string]any{"type": "integer"}
	case reflect.Pointer:
		return map[string]any{"anyOf": []any{s.of(t, r.Elem()), map[string]any{"type": "null"}}}
	case reflect.Slice:
		return map[string]any{"type": []any{"array", "null"}, "items": s.of(t, r.Elem())}
	case reflect.Array:
		return map[string]any{"type": "array", "items": s.of(t, r.Elem()), "minItems": r.Len(), "maxItems": r.Len()}
	case reflect.Map:
		return map[string]any{"type": []any{"object", "null"}, "additionalProperties": s.of(t, r.Elem())}
	case reflect.Struct:
		name := strings.ReplaceAll(strings.TrimPrefix(r.PkgPath(), "balk/"), "/", ".") + "." + r.Name()
		if r.Name() == "" {
			return s.object(t, r)
		}
		if _, ok := s.defs[name]; !ok {
			s.defs[name] = nil // it may hold itself
			s.defs[name] = s.object(t, r)
		}
		return map[string]any{"$ref": "#/$defs/" + name}
	}
	t.Fatalf("%s: no form is known for a %s", r, r.Kind())
	return nil
}

func (s *schemaOf) object(t *testing.T, r reflect.Type) map[string]any {
	members, required := map[string]any{}, []string{}
	s.members(t, r, members, &required)
	slices.Sort(required)
	o := map[string]any{"type": "object", "properties": members}
	if len(required) > 0 {
		o["required"] = required
	}
	return o
}

func (s *schemaOf) members(t *testing.T, r reflect.Type, members map[string]any, required *[]string) {
	for i := range r.NumField() {
		f := r.Field(i)
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Anonymous && name == "" && f.Type.Kind() == reflect.Struct:
			s.members(t, f.Type, members, required)
			continue
		case !f.IsExported() || name == "-":
			continue
		case name == "":
			name = f.Name
		}
		m := s.of(t, f.Type)
		if note := s.note(t, r, f.Name); note != "" {
			m["description"] = note
		}
		members[name] = m
		if !strings.Contains(options, "omit") {
			*required = append(*required, name)
		}
	}
}

// note is the comment of a field.
func (s *schemaOf) note(t *testing.T, r reflect.Type, field string) string {
	folder, ours := strings.CutPrefix(r.PkgPath(), "balk/")
	if !ours {
		return ""
	}
	if s.notes[folder] == nil {
		s.notes[folder] = map[string]map[string]string{}
		dir := filepath.Join("..", "..", "..", filepath.FromSlash(folder))
		list, err := filepath.Glob(filepath.Join(dir, "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range list {
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ParseComments)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(file, func(n ast.Node) bool {
				spec, ok := n.(*ast.TypeSpec)
				if !ok {
					return true
				}
				if st, ok := spec.Type.(*ast.StructType); ok {
					for _, f := range st.Fields.List {
						for _, id := range f.Names {
							if s.notes[folder][spec.Name.Name] == nil {
								s.notes[folder][spec.Name.Name] = map[string]string{}
							}
							s.notes[folder][spec.Name.Name][id.Name] = strings.Join(strings.Fields(f.Doc.Text()+" "+f.Comment.Text()), " ")
						}
					}
				}
				return true
			})
		}
	}
	return s.notes[folder][r.Name()][field]
}

// TestSchema: what `balk help schema` shows is the form of the reports as they are written today.
func TestSchema(t *testing.T) {
	s := &schemaOf{map[string]any{}, map[string]map[string]map[string]string{}}
	var reports []any
	for _, r := range []reflect.Type{reflect.TypeFor[struct {
		made
		Report
	}](), reflect.TypeFor[struct {
		made
		CompareReport
	}](), reflect.TypeFor[struct {
		made
		TurnReport
	}](), reflect.TypeFor[struct {
		made
		EachReport
	}](), reflect.TypeFor[struct {
		made
		SeasonAdded
	}](), reflect.TypeFor[struct {
		made
		SeasonList
	}](), reflect.TypeFor[struct {
		made
		SeasonReport
	}](), reflect.TypeFor[struct {
		made
		SeasonRemoved
	}](), reflect.TypeFor[struct {
		made
		SeasonMoved
	}](), reflect.TypeFor[struct {
		made
		SpotsReport
	}](), reflect.TypeFor[struct {
		made
		SpotsPlanReport
	}](), reflect.TypeFor[struct {
		made
		SweepsReport
	}]()} {
		o := s.object(t, r)
		o["title"] = []string{"of balk check and balk handover", "of balk compare", "of balk turn", "of balk check, of several operations", "of balk season add", "of balk season list", "of balk season show", "of balk season remove", "of balk season export and import", "of balk spots read", "of balk spots plan", "of balk sweeps"}[len(reports)]
		reports = append(reports, o)
	}
	whole := map[string]any{"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "reports of balk, version 1 of their form",
		"description": "What --json prints and report.json holds. Areas are m², lengths m, times UTC, places longitude and latitude in degrees on WGS84. Within a version members come in, none goes or means something else.",
		"anyOf":       reports, "$defs": s.defs}
	var b bytes.Buffer
	if err := indented(&b, whole); err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile(filepath.Join("..", "help", "schema.json"), b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if b.String() != help.Schema {
		t.Error("cmd/internal/help/schema.json is not the form of the reports: go test ./cmd/internal/job -run TestSchema -update, and where a member went or means something else, raise Form in made.go")
	}
}

// against holds a value to a schema, strictly: a member that the schema does not name is a fault too.
func against(root, schema map[string]any, v any, at string) (faults []string) {
	if ref, ok := schema["$ref"].(string); ok {
		return against(root, root["$defs"].(map[string]any)[strings.TrimPrefix(ref, "#/$defs/")].(map[string]any), v, at)
	}
	if choices, ok := schema["anyOf"].([]any); ok {
		var least []string
		for i, one := range choices {
			if f := against(root, one.(map[string]any), v, at); i == 0 || len(f) < len(least) {
				least = f
			}
		}
		return least
	}
	kinds, _ := schema["type"].([]any)
	if one, ok := schema["type"].(string); ok {
		kinds = []any{one}
	}
	is := map[string]bool{}
	switch x := v.(type) {
	case nil:
		is["null"] = true
	case bool:
		is["boolean"] = true
	case string:
		is["string"] = true
	case float64:
		is["number"], is["integer"] = true, x == math.Trunc(x)
	case []any:
		is["array"] = true
	case map[string]any:
		is["object"] = true
	}
	if len(kinds) > 0 && !slices.ContainsFunc(kinds, func(k any) bool { return is[k.(string)] }) {
		return []string{fmt.Sprintf("%s: %.60v is no %v", at, v, kinds)}
	}
	if schema["format"] == "date-time" {
		if _, err := time.Parse(time.RFC3339Nano, v.(string)); err != nil {
			faults = append(faults, at+": "+err.Error())
		}
	}
	switch x := v.(type) {
	case []any:
		if n, ok := schema["minItems"].(float64); ok && len(x) != int(n) {
			faults = append(faults, fmt.Sprintf("%s: %d items", at, len(x)))
		}
		if items, ok := schema["items"].(map[string]any); ok {
			for i, one := range x {
				faults = append(faults, against(root, items, one, fmt.Sprintf("%s[%d]", at, i))...)
			}
		}
	case map[string]any:
		members, _ := schema["properties"].(map[string]any)
		others, open := schema["additionalProperties"].(map[string]any)
		for _, name := range slices.Sorted(maps.Keys(x)) {
			switch m, known := members[name].(map[string]any); {
			case known:
				faults = append(faults, against(root, m, x[name], at+"."+name)...)
			case open:
				faults = append(faults, against(root, others, x[name], at+"."+name)...)
			case members != nil:
				faults = append(faults, at+"."+name+": not in the schema")
			}
		}
		required, _ := schema["required"].([]any)
		for _, name := range required {
			if _, ok := x[name.(string)]; !ok {
				faults = append(faults, at+"."+name.(string)+": is not there")
			}
		}
	}
	return faults
}

// TestReportsKeepTheSchema: real reports of the demo's field and log, as printed and as in the folder, are of the form that is shown; and
// one with a member too few, too many or of another kind is not.
func TestReportsKeepTheSchema(t *testing.T) {
	var root map[string]any
	if err := json.Unmarshal([]byte(help.Schema), &root); err != nil {
		t.Fatal(err)
	}
	texts := map[string][]byte{}
	s := spec(t)
	s.Tracks = []string{formats[0].write(t, t.TempDir(), driven(noon))}
	s.Work.Rounds, s.Work.PassError = 2, 0.05
	s.Out = filepath.Join(t.TempDir(), "out")
	rep, err := Run(t.Context(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	texts["check"] = writtenText(t, rep.JSON)
	if texts["the folder of check"], err = os.ReadFile(filepath.Join(s.Out, reportFile)); err != nil {
		t.Fatal(err)
	}
	s.Work.Working = drive.EvidenceInferred
	s.Out = ""
	if rep, err = Run(t.Context(), s, nil); err != nil {
		t.Fatal(err)
	}
	texts["check, inferred"] = writtenText(t, rep.JSON)
	field := written(t, acre)
	var mu sync.Mutex
	laid := map[string]int{}
	call := &Call{Progress: func(what string, _, _ int) { mu.Lock(); laid[what]++; mu.Unlock() }}
	compared, err := Compare(t.Context(), CompareSpec{Boundary: field, Implements: []rig.Implement{Assumed(12, 0.1)}, Options: plan.Options{Speed: 8}}, call)
	if err != nil {
		t.Fatal(err)
	}
	for n := 1; n <= 3; n++ { // how far it is moves with every plan
		if what := fmt.Sprintf("planning: %d laid out", n); laid[what] != 1 {
			t.Errorf("%q was said %d times", what, laid[what])
		}
	}
	s.Out = filepath.Join(t.TempDir(), "each")
	each, err := Each(t.Context(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	texts["check of each"] = writtenText(t, each.JSON)
	texts["compare"] = writtenText(t, compared.JSON)
	turned, err := Turn(t.Context(), TurnSpec{Boundary: field, Implement: Assumed(6, 0.1)}, nil)
	if err != nil {
		t.Fatal(err)
	}
	texts["turn"] = writtenText(t, turned.JSON)
	texts["spots plan"], texts["spots read"] = kneeled(t, s)
	for name, text := range texts {
		var v map[string]any
		if err := json.Unmarshal(text, &v); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if faults := against(root, root, v, name); len(faults) > 0 {
			t.Errorf("%s: %d faults, such as %s", name, len(faults), strings.Join(faults[:min(3, len(faults))], "; "))
		}
		if program, ok := v["program"].(string); !ok || !strings.HasPrefix(program, "balk ") || v["schema"] != 1. {
			t.Errorf("%s: program %v, schema %v", name, v["program"], v["schema"])
		}
		for what, change := range map[string]func(){
			"a member too few": func() { delete(v, "findings") }, "one too many": func() { v["news"] = 1. }, "one of another kind": func() { v["findings"] = "many" },
		} {
			kept := maps.Clone(v)
			if change(); len(against(root, root, v, name)) == 0 {
				t.Errorf("%s: %s, and no fault", name, what)
			}
			v = kept
		}
	}
}

func writtenText(t *testing.T, write func(io.Writer) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// kneeled are the reports of a walk planned after an operation, and of its table filled in with all that there is.
func kneeled(t *testing.T, s Spec) (planned, found []byte) {
	t.Helper()
	s.Out = ""
	walk, err := PlanSpots(t.Context(), SpotsPlanSpec{Spec: s, Draw: spots.Draw{Places: 8, Deciding: 2}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	table := walk.table()
	for k := range table {
		c := &table[k]
		at := c.From + 0.5
		c.Cut, c.Depths, c.Smeared = geo.IsSo, []geo.SpotValue{{At: at, Value: 0.04}, {At: at + 3, Value: 0.05}}, geo.NotSo
		if k%2 == 0 {
			c.Cut, c.Ribs = geo.NotSo, []geo.SpotValue{{At: at, Value: 0.03}}
		}
		c.Join, c.Seed, c.Burial = &geo.SpotJoin{Left: k%2 == 0, Lap: 0.1}, []geo.SpotNamed{{What: "coarse", Depth: 0.03}}, []geo.SpotNamed{{What: "stubble", Depth: 0.02}}
		c.Plants, c.Looked, c.Visit = []geo.SpotPlants{{Kind: "dock", Amount: 4, Stage: 12}}, true, 1
	}
	for k := range len(table) {
		again := table[k]
		again.Visit, again.Plants, again.Join = 2, []geo.SpotPlants{{Kind: "dock", Amount: 1, Stage: 11}}, nil
		table = append(table, again)
	}
	var b bytes.Buffer
	if err := read.WriteSpots(&b, table, true); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "spots.csv")
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	rep, err := ReadSpots(t.Context(), SpotsReadSpec{Checks: []string{path}, Spec: s, Wanted: spots.Wanted{Depth: &spots.Band{Least: 0.03, Most: 0.06}, Seed: map[string]spots.Band{"coarse": {Least: 0.02, Most: 0.04}}}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	f := rep.Found
	if len(rep.Checks) != len(table) || f.Cut.Places != 16 || f.Cut.Have != 8 || f.Depth == nil || len(f.Seed) != 1 || f.Joins == nil || len(f.Effects) != 1 || math.Abs(f.Effects[0].Mean.Mean-0.75) > 1e-9 || len(rep.Findings) > 0 && Lost(rep.Findings) {
		t.Errorf("%d of %d checks read, found %+v, findings %v", len(rep.Checks), len(table), f, rep.Findings)
	}
	return writtenText(t, walk.JSON), writtenText(t, rep.JSON)
}
