package vector

import (
	"slices"
	"strings"
	"testing"
	"time"
)

// A value is the same text in every format that is text.
func TestValuesAsText(t *testing.T) {
	for name, c := range map[string]struct {
		p         Property
		v         any
		text, say string
	}{
		"words":              {Property{Name: "cause"}, "drift", "drift", "cause: drift"},
		"words with a NUL":   {Property{Name: "cause"}, "a\x00b\xff", "a\uFFFDb\uFFFD", "cause: a\uFFFDb\uFFFD"},
		"a whole number":     {Property{Name: "number"}, -7, "-7", "number: -7"},
		"an area":            {Property{Name: "area", Unit: "m²", Decimals: 2}, 20.0, "20.00", "area: 20.00 m²"},
		"a width":            {Property{Name: "width", Unit: "m", Decimals: 1}, 0.25, "0.2", "width: 0.2 m"},
		"yes":                {Property{Name: "headland"}, true, "true", "headland: yes"},
		"no":                 {Property{Name: "headland"}, false, "false", "headland: no"},
		"a time of a zone":   {Property{Name: "from", Unit: "UTC"}, time.Date(2026, 4, 14, 8, 30, 0, 5e8, time.FixedZone("CEST", 7200)), "2026-04-14T06:30:00.5Z", "from: 2026-04-14T06:30:00.5Z"},
		"a list":             {Property{Name: "passes"}, []int{4, 5, 16}, "4 5 16", "passes: 4 5 16"},
		"a list of one":      {Property{Name: "passes"}, []int{4}, "4", "passes: 4"},
		"a list of none":     {Property{Name: "passes"}, []int{}, "", "passes: "},
		"nothing":            {Property{Name: "passes"}, nil, "", "passes: "},
		"yes, in German":     {Property{Name: "headland", Said: [2]string{"nein", "ja"}}, true, "true", "headland: ja"},
		"no, in German":      {Property{Name: "headland", Said: [2]string{"nein", "ja"}}, false, "false", "headland: nein"},
		"a decimal comma":    {Property{Name: "area", Unit: "m²", Holds: Number, Decimals: 2, Comma: true}, 20.5, "20.50", "area: 20,50 m²"},
		"words with a point": {Property{Name: "name", Holds: Words, Comma: true}, "No. 3", "No. 3", "name: No. 3"},
		"a title of its own": {Property{Name: "area", Title: "ground"}, 3, "3", "ground: 3"},
	} {
		if got := c.p.text(c.v); got != c.text {
			t.Errorf("%s: %q, want %q", name, got, c.text)
		}
		if got := c.p.plainSentence(c.v); got != c.say {
			t.Errorf("%s: says %q, want %q", name, got, c.say)
		}
	}
}

// What is known of a layer is said; rings lost by rounding only where there are any.
func TestAboutALayer(t *testing.T) {
	facts := []Fact{{Property{Name: "width", Unit: "m", Decimals: 2}, 6.0}, {Property{Name: "crab"}, nil}, {Property{Name: "passes"}, 3}}
	for lost, want := range map[int]string{0: "width: 6.00 m; passes: 3", 1: "width: 6.00 m; passes: 3; rings lost by rounding: 1"} {
		if got := (Layer{Facts: facts, LeftOut: lost}).aboutIt(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := (Layer{}).aboutIt(); got != "" {
		t.Errorf("nothing known: %q", got)
	}
	l := Layer{Label: "name", Columns: []Property{{Name: "name"}, {Name: "cause"}, {Name: "area", Unit: "m²"}}}
	row := []any{"strip 7", nil, 20.0}
	if got := l.sentences(row); !slices.Equal(got, []string{"area: 20 m²"}) || l.labelOf(row) != "strip 7" {
		t.Errorf("%q of %q", got, l.labelOf(row))
	}
	l.Label = ""
	if got := l.sentences(row); !slices.Equal(got, []string{"name: strip 7", "area: 20 m²"}) || l.labelOf(row) != "" {
		t.Errorf("without a label: %q of %q", got, l.labelOf(row))
	}
}

// The doubled area of a triangle of 3 by 4 units, counter-clockwise positive, wherever it lies; degrees are as short as they read back.
func TestUnitsOfRounding(t *testing.T) {
	const far = 115_731_000_000
	for _, at := range []int64{0, far, -far} {
		ring := []place{{at, at}, {at + 3, at}, {at, at + 4}}
		if got := twiceArea(ring); got != 12 {
			t.Errorf("%g, want 12", got)
		}
		slices.Reverse(ring)
		if got := twiceArea(ring); got != -12 {
			t.Errorf("clockwise: %g, want -12", got)
		}
	}
	for v, want := range map[float64]string{11.5: "11.5", -0.00000001: "-0.00000001", 48: "48", 11.123456789012: "11.123456789012"} {
		if got := string(appendShortest(nil, v)); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if err := Check([]Layer{{Name: "strips", Kind: Points}, {Name: "strips", Kind: Points}}); err == nil || !strings.Contains(err.Error(), "two layers have this name") {
		t.Errorf("%v", err)
	}
}
