package cli

import (
	"bytes"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// numbersInText are flags of texts that hold numbers, which tests of their own read with a comma: places, depths and widths in lists.
var numbersInText = []string{"gate", "edge", "bearing", "downhill", "crab", "depth", "seed-depth", "widths"}

// wholeOrName are flags of texts that hold a whole number, or a name.
var wholeOrName = []string{"field", "official"}

// TestCommasInEveryNumber: every flag of every verb that takes a number takes its decimals after a point or a comma, and the number alone or with
// its unit; one that takes whole numbers refuses these in words of balk.
func TestCommasInEveryNumber(t *testing.T) {
	foreign := regexp.MustCompile(`strconv|parsing|invalid|duration|time:|flag`)
	speaksOfNumbers := regexp.MustCompile(`DEGREES|BEARING|METRES|CM|NUMBER|LAT|FROM|MIB|YEAR|DAYS|CODE of the EPSG|PORT|MONEY`)
	refused := func(c *cobra.Command, f *pflag.Flag, text string) {
		err := c.Flags().Set(f.Name, text)
		if err == nil {
			t.Errorf("%s --%s %q: taken", c.Name(), f.Name, text)
			return
		}
		if said := fault(c, err); foreign.MatchString(said) {
			t.Errorf("%s --%s %q: %s", c.Name(), f.Name, text, said)
		}
	}
	numbers, wholes := 0, 0
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, under := range c.Commands() {
			walk(under)
		}
		c.Flags().VisitAll(func(f *pflag.Flag) {
			var value *float64
			unit := "m"
			switch of := f.Value.(type) {
			case measure:
				value, unit = of.value, of.unit
			case *barWidth:
				value = &of.metres
			case span:
				for text, want := range map[string]time.Duration{"90s": 90 * time.Second, "1.5h": 90 * time.Minute, "1,5 h": 90 * time.Minute, "10 min": 10 * time.Minute} {
					if err := c.Flags().Set(f.Name, text); err != nil || *of.value != want {
						t.Errorf("%s --%s %q: %v (%v)", c.Name(), f.Name, text, *of.value, err)
					}
				}
				refused(c, f, "5")
				refused(c, f, "long")
				return
			}
			if value != nil {
				numbers++
				for _, text := range []string{"5.5", "5,5", " 5,5 ", "5.5" + unit, "5,5" + unit, "5.5 " + unit, "5,5 " + unit} {
					*value = 0
					if err := c.Flags().Set(f.Name, text); err != nil || *value != 5.5 {
						t.Errorf("%s --%s %q: %g (%v)", c.Name(), f.Name, text, *value, err)
					}
				}
				for _, text := range []string{"5,125", "5,5;6", "5,5,6", "five", "", "5 ells", "NaN", "Inf"} {
					refused(c, f, text)
				}
				return
			}
			switch kind := f.Value.Type(); kind {
			case "int", "int64", "uint64":
				wholes++
				for _, text := range []string{"5,5", "5.5", "5 m", "five", ""} {
					refused(c, f, text)
				}
			case "float64", "float32", "duration", "uint", "int32":
				t.Errorf("%s --%s is a %s, which takes no comma", c.Name(), f.Name, kind)
			case "string", "stringArray", "stringSlice", "stringToString":
				holds, usage := pflag.UnquoteUsage(f)
				if speaksOfNumbers.MatchString(holds+" "+usage) && !slices.Contains(numbersInText, f.Name) && !slices.Contains(wholeOrName, f.Name) && !strings.HasPrefix(holds, "NAME") && !strings.HasPrefix(holds, "FILE") {
					t.Errorf("%s --%s takes %s: is it a number?", c.Name(), f.Name, holds)
				}
			}
		})
	}
	walk(verbs(&voice{}))
	if numbers < 100 || wholes < 15 {
		t.Errorf("%d flags of numbers and %d of whole numbers: the walk does not see them", numbers, wholes)
	}
}

// TestCommasInNamedNumbers: what a flag sets by name takes commas and units too, and says in words what it does not take.
func TestCommasInNamedNumbers(t *testing.T) {
	said := func(args ...string) string {
		var out bytes.Buffer
		if code := Run(t.Context(), args, strings.NewReader(""), &out, &out); code == done {
			t.Errorf("%q: done, of files that are not there", args)
		}
		return out.String()
	}
	check := func(more ...string) []string {
		return append([]string{"check", "none.geojson", "none.csv", "--width", "6"}, more...)
	}
	plan := func(more ...string) []string {
		return append([]string{"compare", "none.geojson", "--widths", "6", "--speed", "8"}, more...)
	}
	seed := func(more ...string) []string {
		return append([]string{"spots", "read", "none.csv"}, check(more...)[1:]...)
	}
	const gone = "none\\.(geojson|csv)"
	for _, c := range []struct {
		args []string
		want string
	}{
		{check("--mount", "hitch=1,6"), gone}, {check("--mount", "hitch=1.6 m"), gone}, {check("--mount", "hitch=1,6", "--mount", "barBehind=-0,5m"), gone},
		{check("--mount", "trailed=true", "--mount", "drawbar=4", "--mount", "maxAngle=60,5°"), gone}, {check("--mount", "trailed=true,hitch=1.6,drawbar=4"), gone},
		{check("--mount", "hitch=1,625"), `mount hitch=1,625: "1,625": write the decimals after a point`},
		{check("--mount", "hitch=1,6,drawbar=4"), `must be NAME=VALUE; where decimals stand after a comma, one to a flag`},
		{check("--mount", "hitch=far"), `mount hitch=far: hitch: a number is wanted, not a text`},
		{check("--mount", "trailed=yes"), `mount trailed=yes: trailed: true or false is wanted, not a text`},
		{check("--mount", "trailed=1"), `mount trailed=1: trailed: true or false is wanted, not a number`},
		{check("--mount", "hitch=5 ells"), `"5 ells" is no number of metres`},
		{plan("--draught", "soil=0,85", "--draught", "a=390", "--draught", "depth=8,5 cm"), gone},
		{plan("--draught", "soil=0,85,a=390"), `where decimals stand after a comma, one to a flag`},
		{seed("--depth", "3,5..5,5"), gone}, {seed("--depth", "3..5 cm"), gone}, {seed("--seed-depth", "coarse=2,5..4"), gone},
		{seed("--depth", "3,5"), `--depth 3,5: must be two depths in cm`},
		{plan("--gate", "11,57;48,13"), gone}, {plan("--gate", "11,57,48,13"), `--gate 11,57,48,13: must be longitude and latitude in degrees, such as 11.5731,48.1371 or 11,5731;48,1371`},
		{plan("--bearing", "178,5"), gone}, {check("--crab", "1,5°", "--downhill", "180,5"), gone},
	} {
		if got := said(c.args...); !regexp.MustCompile(c.want).MatchString(got) {
			t.Errorf("%q: %s", c.args, got)
		}
		if words := untranslated(said(append(c.args, "--language", "de")...)); len(words) > 0 && !slices.Equal(words, []string{"drawbar"}) {
			t.Errorf("%q: %q", c.args, words)
		}
	}
}
