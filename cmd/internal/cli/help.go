package cli

import (
	"fmt"
	"runtime/debug"
	"strings"

	"balk/cmd/internal/help"

	"github.com/spf13/cobra"
)

// Verbs is balk with all its verbs and pages of help, for those who write manuals.
func Verbs() *cobra.Command { return verbs(&voice{}) }

// explain gives the verbs their pages of help, and adds the topics.
func explain(root *cobra.Command) {
	for _, c := range append(root.Commands(), root) {
		title, text := help.Page(c.Name())
		c.Short, c.Long = title, help.Plain(text)+"\n\n"+exitTable
	}
	for _, name := range help.Topics {
		title, text := help.Page(name)
		if text = help.Plain(text); name == "exit" {
			text = exitTable + "\n\n" + text
		}
		root.AddCommand(&cobra.Command{Use: name, Short: title, Long: text}) // one that runs nothing is a topic
	}
	root.SetHelpCommand(&cobra.Command{
		Use:   "help [VERB | TOPIC]",
		Short: "what a verb does, or about a topic",
		RunE: func(_ *cobra.Command, args []string) error {
			c, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return fmt.Errorf("help %s: no such verb or topic", strings.Join(args, " "))
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
	root.SetVersionTemplate("balk {{.Version}}\n")
	root.SetUsageTemplate(strings.NewReplacer(
		"Additional help topics:", "Topics (balk help TOPIC):",
		"{{rpad .CommandPath .CommandPathPadding}}", "{{rpad .Name .NamePadding}}",
	).Replace(root.UsageTemplate()))
}

// version is the release that was built, or else the commit.
func version(b *debug.BuildInfo, ok bool) string {
	if !ok {
		return "without a version"
	}
	said := map[string]string{}
	for _, s := range b.Settings {
		said[s.Key] = s.Value
	}
	commit, released := said["vcs.revision"], b.Main.Version
	commit = commit[:min(len(commit), 12)] // a commit between two releases has a version that ends in so much of its name
	switch {
	case released != "" && released != "(devel)" && (commit == "" || !strings.Contains(released, commit)):
		return released
	case commit == "":
		return "without a version"
	}
	day, _, _ := strings.Cut(said["vcs.time"], "T")
	if said["vcs.modified"] == "true" {
		day += ", changed since"
	}
	return "commit " + commit + " of " + day
}
