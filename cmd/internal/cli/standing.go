package cli

import (
	"encoding/csv"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"balk/cmd/internal/job"
	"balk/export/words"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// once marks flags of a verb that are of a single call, and so never taken from a standing file.
func once(f *pflag.FlagSet, names ...string) {
	for _, name := range names {
		if err := f.SetAnnotation(name, onceMark, nil); err != nil {
			panic(err) // the flag is added before
		}
	}
}

const onceMark = "balk_once"

// lasting tells whether a flag may stand in a file.
func lasting(f *pflag.Flag) bool {
	_, is := f.Annotations[onceMark]
	return !is && f.Name != "help"
}

// exclusive is where cobra keeps which flags exclude each other.
const exclusive = "cobra_annotation_mutually_exclusive"

// overruled are flags that, given in the call, are not to be changed by others from a file: another set has its own width.
var overruled = map[string][]string{
	"implement": {"width", "overlap", "mount"},
	"widths":    {"implement"},
}

// standing takes from the file balk.toml above the paths what the call leaves open: flags win over it, it wins over what holds
// otherwise. It says what it took. takes: flags that are meant; nil = all of the verb.
func (v *voice) standing(c *cobra.Command, paths []string, takes func(name string) bool) error {
	file, err := v.call.Standing(paths)
	if err != nil {
		return v.finish(nil, err)
	}
	if file == nil {
		return nil
	}
	v.folder = filepath.Dir(file.Path)
	refuse := func(one job.StandingValue, format string, args ...any) error {
		return &stop{couldNot, fmt.Errorf("%s, line %d: %s: %s", file.Path, one.Line, one.Name, fmt.Sprintf(format, args...))}
	}
	known := map[string]*pflag.Flag{}
	for _, verb := range c.Root().Commands() {
		for _, one := range append(verb.Commands(), verb) {
			one.Flags().VisitAll(func(f *pflag.Flag) {
				if lasting(f) && known[f.Name] == nil {
					known[f.Name] = f
				}
			})
		}
	}
	given := map[string]bool{}
	c.Flags().Visit(func(f *pflag.Flag) {
		given[f.Name] = true
		for _, group := range f.Annotations[exclusive] {
			for name := range strings.FieldsSeq(group) {
				given[name] = true
			}
		}
		for _, name := range overruled[f.Name] {
			given[name] = true
		}
	})
	var taken []string
	for _, one := range file.Values {
		flag := known[one.Name]
		if flag == nil {
			return refuse(one, "no such value is known%s\nhint: balk help farm says what may stand there", job.Meant(one.Name, slices.Sorted(maps.Keys(known))))
		}
		own := c.Flags().Lookup(one.Name)
		mine := own != nil && lasting(own) && !given[one.Name] && (takes == nil || takes(one.Name))
		if mine {
			flag = own
		}
		texts, why := flagTexts(flag, one, filepath.Dir(file.Path))
		if why != "" {
			return refuse(one, "%s", why)
		}
		if !mine {
			continue
		}
		if err := setFlag(c.Flags(), flag, texts); err != nil {
			return refuse(one, "%v", err)
		}
		taken = append(taken, one.Name)
		if one.Name == "language" {
			v.Language = words.Language(texts[0])
		}
	}
	if len(taken) > 0 {
		v.say(v.Say("from %s: %s", file.Path, strings.Join(taken, ", ")))
	}
	return nil
}

// fieldsFlag names the file of boundaries, which stands in the call as FIELD too.
func fieldsFlag(f *pflag.FlagSet, boundary *string) {
	f.StringVar(boundary, "fields", "", "`FILE` of the field boundaries, instead of FIELD; then all that is named are logs")
}

// operands settles which of the arguments is the field and which are logs. As long as only a file says where the fields are, the first
// of several arguments is the field unless it is a log.
func (v *voice) operands(c *cobra.Command, args []string) error {
	logs := args
	given := c.Flags().Changed("fields")
	if len(args) > 1 && !given {
		logs = args[1:]
	}
	return v.standing(c, logs, func(name string) bool {
		return name != "fields" || len(args) == 1 || v.call.IsLog(c.Context(), args[0])
	})
}

// split are the field and the logs of a call, after operands.
func split(c *cobra.Command, boundary string, args []string) (string, []string, error) {
	switch {
	case boundary != "" && len(args) > 0:
		return boundary, args, nil
	case len(args) == 1:
		return "", nil, fmt.Errorf("%s wants FIELD and at least one TRACK; got only %q\nhint: where one file or folder holds both, as task data does, give it twice; a file %s names the fields once (balk help farm)", verbOf(c), args[0], job.StandingFile)
	case len(args) == 0:
		return "", nil, fmt.Errorf("%s wants FIELD and at least one TRACK", verbOf(c))
	}
	return args[0], args[1:], nil
}

// verbOf is a verb as it is called.
func verbOf(c *cobra.Command) string { return strings.TrimPrefix(c.CommandPath(), "balk ") }

// farmFlag names the folder of the farm.
func farmFlag(f *pflag.FlagSet, farm *string) {
	f.StringVar(farm, "farm", "", "`DIR` of the farm (that of balk.toml if not given)")
}

// farmOf is the folder of the farm, after standing: that named, or that of the file; "" = neither has one.
func (v *voice) farmOf(named string) string {
	if named == "" && v.folder != "" && job.HasFarm(v.folder) {
		return v.folder
	}
	return named
}

// pathOf is what a verb names that needs no log: its field, or else the working folder.
func pathOf(args []string) []string {
	if len(args) == 0 {
		return []string{"."}
	}
	return args
}

// flagTexts is a value as the flag takes it, or why it is none; paths are those from the folder of the file.
func flagTexts(f *pflag.Flag, one job.StandingValue, dir string) (texts []string, why string) {
	holds, _ := pflag.UnquoteUsage(f)
	number := one.Kind == job.StandingNumber || one.Kind == job.StandingWhole
	var wants job.StandingKind
	switch f.Value.Type() {
	case "bool":
		wants = job.StandingTruth
	case "int", "uint64":
		wants = job.StandingWhole
	case "stringToString":
		wants = job.StandingTable
	case "string", "days":
		if wants = job.StandingText; number && slices.Contains([]string{"NUMBER", "DEGREES", "BEARING"}, holds) {
			wants = one.Kind
		}
	case "stringArray", "stringSlice":
		if wants = job.StandingList; one.Kind == job.StandingText || number {
			wants = one.Kind // a list of one
		}
	default: // a number, perhaps with its unit
		if wants = job.StandingNumber; number || one.Kind == job.StandingText {
			wants = one.Kind
		}
	}
	if one.Kind != wants {
		return nil, fmt.Sprintf("is a %s: must be a %s", one.Kind, wants)
	}
	texts = slices.Clone(one.Texts)
	if patches := f.Name == "target"; holds == "FILE" || holds == "DIR" || patches {
		for i, t := range texts {
			if patches && job.Target(t).File() == "" {
				continue
			}
			if t != "" && !filepath.IsAbs(t) {
				texts[i] = filepath.Join(dir, filepath.FromSlash(t))
			}
		}
	}
	return texts, ""
}

// setFlag gives a flag its value, as if it stood in the call.
func setFlag(set *pflag.FlagSet, f *pflag.Flag, texts []string) error {
	if list, ok := f.Value.(pflag.SliceValue); ok {
		if err := set.Set(f.Name, ""); err != nil {
			return err
		}
		return list.Replace(texts)
	}
	if f.Value.Type() == "stringToString" {
		var b strings.Builder
		w := csv.NewWriter(&b)
		if err := w.Write(texts); err != nil {
			return err
		}
		w.Flush()
		texts = []string{strings.TrimSuffix(b.String(), "\n")}
	}
	err := f.Value.Set(texts[0])
	if err == nil {
		err = set.Set(f.Name, texts[0]) // that it counts as given
	}
	return err
}
