package cli

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"balk/cmd/internal/job"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// wrong is a fault of the call in balk's words: what is wrong, what may have been meant, and which page of help tells more.
// c is the verb that was found, as far as one was.
func wrong(c *cobra.Command, err error) error {
	_, page, _ := strings.Cut(c.CommandPath(), " ")
	return fmt.Errorf("%s\nsee: %s", fault(c, err), strings.TrimSpace("balk help "+page))
}

// The library tells these faults by their words alone.
var (
	noVerb  = regexp.MustCompile(`^unknown command "(.*)" for`)
	missing = regexp.MustCompile(`^required flag\(s\) (.*) not set$`)
	oneOf   = regexp.MustCompile(`^at least one of the flags in the group \[(.*)\] is required$`)
	notBoth = regexp.MustCompile(`^if any flags in the group .* \[(.*)\] were all set$`)
	surplus = regexp.MustCompile(`^(?:accepts|requires) (at most |at least )?(\d+) arg\(s\), (?:only )?received (\d+)$`)
)

func fault(c *cobra.Command, err error) string {
	var unknown *pflag.NotExistError
	var bare *pflag.ValueRequiredError
	var value *pflag.InvalidValueError
	switch {
	case errors.As(err, &unknown) && unknown.GetSpecifiedShortnames() != "":
		return fmt.Sprintf("-%s: no such flag; names of flags stand after two dashes", unknown.GetSpecifiedShortnames())
	case errors.As(err, &unknown):
		var names []string
		c.Flags().VisitAll(func(f *pflag.Flag) { names = append(names, "--"+f.Name) })
		given := "--" + unknown.GetSpecifiedName()
		return given + ": no such flag" + job.Meant(given, names)
	case errors.As(err, &bare):
		_, usage := pflag.UnquoteUsage(bare.GetFlag())
		return fmt.Sprintf("--%s: wants a value: %s", bare.GetSpecifiedName(), usage)
	case errors.As(err, &value):
		return fmt.Sprintf("--%s %s: %s", value.GetFlag().Name, value.GetValue(), misfit(value))
	}
	text := err.Error()
	if m := noVerb.FindStringSubmatch(text); m != nil {
		var names []string
		for _, one := range c.Commands() {
			if one.Runnable() {
				names = append(names, one.Name())
			}
		}
		return m[1] + ": no such verb" + job.Meant(m[1], names)
	}
	if m := missing.FindStringSubmatch(text); m != nil {
		return "--" + strings.ReplaceAll(strings.ReplaceAll(m[1], `"`, ""), ", ", ", --") + ": must be given"
	}
	if m := oneOf.FindStringSubmatch(text); m != nil {
		return "--" + strings.Join(strings.Fields(m[1]), " or --") + ": one must be given"
	}
	if m := notBoth.FindStringSubmatch(text); m != nil {
		return "--" + strings.Join(strings.Fields(m[1]), " and --") + ": only one of them may be given"
	}
	if m := surplus.FindStringSubmatch(text); m != nil {
		_, under, _ := strings.Cut(c.Parent().CommandPath(), " ")
		use := strings.TrimSpace(under + " " + c.Use)
		switch m[1] {
		case "at least ":
			return fmt.Sprintf("balk %s: at least %s wanted, not %s", use, m[2], m[3])
		case "at most ":
			return fmt.Sprintf("balk %s: at most %s wanted, not %s", use, m[2], m[3])
		}
		return fmt.Sprintf("balk %s: %s wanted, not %s", use, m[2], m[3])
	}
	return text
}

// misfit says why a flag does not take a value.
func misfit(e *pflag.InvalidValueError) string {
	cause := e.Unwrap()
	if !errors.As(cause, new(*strconv.NumError)) {
		if text := cause.Error(); !strings.HasSuffix(text, "must be formatted as key=value") {
			return text
		}
		if strings.Contains(e.GetValue(), ",") {
			return "must be NAME=VALUE; where decimals stand after a comma, one to a flag"
		}
		return "must be NAME=VALUE"
	}
	if e.GetFlag().Value.Type() == "bool" {
		return "must be true or false, or left out"
	}
	return "is no whole number"
}
