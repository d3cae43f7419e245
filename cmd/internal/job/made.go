package job

import (
	"runtime/debug"
	"strings"
)

// Form is the version of the form of the reports, which `balk help schema` shows. Within one, members come in and none goes or
// means something else.
const Form = 1

// made stands in front of every report.
type made struct {
	Program string `json:"program"` // balk and its version
	Schema  int    `json:"schema"`  // version of the form, see balk help schema
}

func madeBy() made { return made{Program(), Form} }

// Program is balk and its version.
func Program() string { return "balk " + Version(debug.ReadBuildInfo()) }

// Version is the release that was built, or else the commit.
func Version(b *debug.BuildInfo, ok bool) string {
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
