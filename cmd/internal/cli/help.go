package cli

import (
	"fmt"
	"io"
	"strings"

	"balk/cmd/internal/help"
	"balk/cmd/internal/job"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// Verbs is balk with all its verbs and pages of help, for those who write manuals.
func Verbs() *cobra.Command { return verbs(&voice{}) }

// explain gives the verbs their pages of help, and adds the topics.
func explain(root *cobra.Command) {
	for _, c := range append(root.Commands(), root) {
		title, text := help.Page(c.Name())
		c.Short, c.Long = title, help.Plain(text)+"\n\n"+exitTable
		for _, sub := range c.Commands() {
			sub.Flags().VisitAll(func(f *pflag.Flag) {
				if f.Value.Type() == "stringToString" { // that nothing is given needs no brackets; pflag knows lists by theirs
					f.DefValue = ""
				}
			})
			if c != root {
				sub.Long = c.Long
			}
		}
	}
	for _, name := range help.Topics {
		title, text := help.Page(name)
		if text = help.Plain(text); name == "exit" {
			text = exitTable + "\n\n" + text
		}
		root.AddCommand(&cobra.Command{Use: name, Short: title, Long: text}) // one that runs nothing is a topic
	}
	licences := &cobra.Command{Use: "licences", Short: "the licences of balk and of what is linked into it"}
	licences.SetHelpFunc(func(c *cobra.Command, _ []string) {
		if _, err := io.WriteString(c.OutOrStdout(), help.Notices()); err != nil {
			c.PrintErrln(err)
		}
	})
	root.AddCommand(licences)
	schema := &cobra.Command{Use: "schema", Short: "the form of --json and report.json, as JSON Schema"}
	schema.SetHelpFunc(func(c *cobra.Command, _ []string) { fmt.Fprint(c.OutOrStdout(), help.Schema) })
	root.AddCommand(schema)
	root.SetHelpCommand(&cobra.Command{
		Use:   "help [VERB | TOPIC]",
		Short: "what a verb does, or about a topic",
		RunE: func(_ *cobra.Command, args []string) error {
			c, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				var names []string
				for _, one := range root.Commands() {
					names = append(names, one.Name())
				}
				what := strings.Join(args, " ")
				return fmt.Errorf("help %s: no such verb or topic%s", what, job.Meant(what, names))
			}
			c.InitDefaultHelpFlag()
			return c.Help()
		},
		ValidArgsFunction: func(*cobra.Command, []string, string) (names []cobra.Completion, _ cobra.ShellCompDirective) {
			for _, c := range root.Commands() {
				if !c.Hidden {
					names = append(names, cobra.CompletionWithDesc(c.Name(), c.Short))
				}
			}
			return names, cobra.ShellCompDirectiveNoFileComp
		},
	})
	// Templates of our own would keep every method of every type in the binary, a seventh of it: what a template may ask for
	// the linker cannot know. The usage is the library's, but for the topics.
	usual := root.UsageFunc()
	root.SetUsageFunc(func(c *cobra.Command) error {
		var b strings.Builder
		out := c.OutOrStderr()
		c.SetOut(&b)
		err := usual(c)
		c.SetOut(out)
		if err != nil {
			return err
		}
		use := b.String()
		if head, list, found := strings.Cut(use, "\n\nAdditional help topics:"); found {
			_, tail, _ := strings.Cut(list, "\n\n")
			use = head + "\n\nTopics (balk help TOPIC):"
			for _, one := range c.Commands() {
				if one.IsAdditionalHelpTopicCommand() {
					use += fmt.Sprintf("\n  %-*s %s", one.NamePadding(), one.Name(), one.Short)
				}
			}
			use += "\n\n" + tail
		}
		_, err = io.WriteString(out, use)
		return err
	})
}

// completion puts the library's verb for it into our words: a shell must be named that it knows. Where it writes to is asked when the verb is made.
func completion(v *voice, root *cobra.Command) {
	if v.out != nil {
		root.SetOut(v.out)
	}
	root.InitDefaultCompletionCmd()
	c, _, err := root.Find([]string{"completion"})
	if err != nil {
		return // without verbs there is nothing to complete
	}
	var shells []string
	for _, one := range c.Commands() {
		shells = append(shells, one.Name())
		one.Short = "completions for " + one.Name()
		one.Args = func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return fmt.Errorf("completion %s: nothing more is wanted, not %s", c.Name(), args[0])
			}
			return nil
		}
	}
	c.Use, c.Short = "completion SHELL", "completions of verbs, flags and topics for a shell: "+strings.Join(shells, ", ")
	c.Long = "completion writes what a shell reads to complete verbs, flags and topics of balk.\nEach of them tells how to keep it: balk help completion SHELL"
	alone(v, c)
	c.Args = cobra.ArbitraryArgs
	c.RunE = func(_ *cobra.Command, args []string) error {
		list := strings.Join(shells, ", ")
		if len(args) == 0 {
			return fmt.Errorf("completion: no shell given; there are %s", list)
		}
		return fmt.Errorf("completion %s: no such shell; there are %s", args[0], list)
	}
}
