// Command pages writes the man pages of balk into a folder: one of section 1 per verb, from its page of help and its flags, and one
// of section 7 per topic. SOURCE_DATE_EPOCH dates them, in seconds since 1970.
package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"balk/cmd/internal/cli"
	"balk/cmd/internal/help"

	"github.com/cpuguy83/go-md2man/v2/md2man"
	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "pages: one folder must be named")
		os.Exit(2)
	}
	if err := write(os.Args[1], os.Getenv("SOURCE_DATE_EPOCH")); err != nil {
		fmt.Fprintln(os.Stderr, "pages:", err)
		os.Exit(1)
	}
}

func write(dir, epoch string) error {
	seconds, err := strconv.ParseInt(epoch, 10, 64)
	if err != nil {
		return fmt.Errorf("SOURCE_DATE_EPOCH: %w", err)
	}
	day := time.Unix(seconds, 0).UTC()
	root := cli.Verbs()
	all := []*cobra.Command{root}
	for _, c := range root.Commands() {
		if c.Name() != "completion" { // help says all of it, and no page of ours
			all = append(append(all, c), c.Commands()...)
		}
	}
	for _, c := range all {
		if c.Long == "" { // help itself
			continue
		}
		c.DisableAutoGenTag = true
		c.Long = markdown(c)
		var page bytes.Buffer
		name, section := strings.ReplaceAll(c.CommandPath(), " ", "-"), "1"
		if c.IsAdditionalHelpTopicCommand() {
			section = "7"
			text := fmt.Sprintf("%% %q \"7\" %q \"\" \"balk\"\n# NAME\n%s - %s\n# DESCRIPTION\n%s# SEE ALSO\n**balk(1)**\n", strings.ToUpper(name), day.Format("Jan 2006"), name, c.Short, c.Long)
			page.Write(md2man.Render([]byte(text)))
		} else if err := doc.GenMan(c, &doc.GenManHeader{Section: section, Date: &day, Manual: "balk"}, &page); err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, name+"."+section), page.Bytes(), 0o644); err != nil {
			return err
		}
	}
	return nil
}

// markdown is what help says of a verb or topic: its page, tables as blocks, and the exit codes that help adds.
func markdown(c *cobra.Command) string {
	page := c
	if page.HasParent() && page.Parent().HasParent() { // what a verb can do stands on its page
		page = page.Parent()
	}
	_, text := help.Page(page.Name())
	var b strings.Builder
	for part := range strings.SplitSeq(text, "\n\n") {
		if strings.HasPrefix(part, "|") {
			part = "```\n" + help.Plain(part) + "\n```"
		}
		b.WriteString(strings.TrimSpace(part) + "\n\n")
	}
	if _, codes, ok := strings.Cut(strings.Replace(c.Long, help.Plain(text), "", 1), "Exit codes:\n"); ok {
		b.WriteString("# EXIT CODES\n```\n" + strings.TrimRight(codes, "\n") + "\n```\n")
	}
	return b.String()
}
