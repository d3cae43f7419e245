package web

import (
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"strings"
)

// supposable are the flags of balk check that the page may set. None of them names a file.
var supposable = []string{"width", "overlap", "rounds", "headland", "pass-error", "mount", "crab", "downhill", "crab-per-percent", "relap", "working", "frame", "field", "days", "approach", "log-zone", "crs"}

// repeated are those of them that may be given more than once, each time for another thing.
var repeated = []string{"mount", "widths"}

// opposed are flags of which one only may be given.
var opposed = map[string]string{"rounds": "headland", "headland": "rounds"}

// suppose is args with a flag of another value; "" takes the flag away.
func suppose(args []string, name, value string) []string {
	out := slices.Clone(args)
	if !slices.Contains(repeated, name) {
		out = without(out, name)
	}
	if value == "" {
		return out
	}
	if other := opposed[name]; other != "" {
		out = without(out, other)
	}
	return append(out, "--"+name, value)
}

// without is args without a flag that takes a value.
func without(args []string, name string) []string {
	var out []string
	for i := 0; i < len(args); i++ {
		if args[i] == "--"+name {
			i++
			continue
		}
		if !strings.HasPrefix(args[i], "--"+name+"=") {
			out = append(out, args[i])
		}
	}
	return out
}

// supposed are args with the flags of a query.
func supposed(args []string, query url.Values) ([]string, error) {
	return with(args, query, supposable)
}

// with is args with the flags of a query, each of which must be one of may.
func with(args []string, query url.Values, may []string) ([]string, error) {
	out := slices.Clone(args)
	for name := range query {
		if name != languageName && name != tokenName && !slices.Contains(may, name) {
			return nil, fmt.Errorf("%s: nothing that can be supposed", name)
		}
	}
	for _, name := range may { // in one order, so that the same is known again
		for _, value := range query[name] {
			if strings.HasPrefix(value, "--") || len(value) > mostFlag {
				return nil, fmt.Errorf("--%s %.20q: no value", name, value)
			}
			out = suppose(out, name, value)
		}
	}
	return out, nil
}

// plain are words that no shell takes for anything else.
var plain = regexp.MustCompile(`^[A-Za-z0-9_./=:,@%+-]+$`)

// commandOf is a call of balk, as a shell takes it.
func commandOf(verb []string, args []string) string {
	words := append([]string{"balk"}, verb...)
	for _, a := range args {
		if !plain.MatchString(a) {
			a = "'" + strings.ReplaceAll(a, "'", `'\''`) + "'"
		}
		words = append(words, a)
	}
	return strings.Join(words, " ")
}

// checked is the verb whose arguments are held.
var checked = []string{"check"}
