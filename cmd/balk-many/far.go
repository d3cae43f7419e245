package main

import (
	"fmt"
	"strings"

	"balk/cmd/internal/many"
	"balk/export/words"
)

// far says in a line how far a batch is.
func far(l words.Language, s many.Status) string {
	var b strings.Builder
	b.WriteString(l.Say("batch %d: ", s.Batch))
	if s.Shared {
		b.WriteString(l.Say("%d of %d operations worked, %d of them failed", s.Worked, s.Operations, s.Failed))
	} else {
		b.WriteString(l.Say("%d of %s looked at", s.Surveyed, l.Count(s.Logs, "log")))
	}
	if s.LogsFailed > 0 {
		b.WriteString(l.Say("; %s could not be used", l.Count(s.LogsFailed, "log")))
	}
	if s.Rate > 0 && !s.Done() {
		b.WriteString(l.Say(", %.1f a second", s.Rate))
	}
	if s.Remaining > 0 {
		b.WriteString(l.Say(", %s left", words.Clock(s.Remaining)))
	}
	if s.GivenUp > 0 {
		b.WriteString(l.Say("; %s given up", l.Count(s.GivenUp, "bundle")))
	}
	if s.Cancelled > 0 {
		b.WriteString(l.Say("; %s cancelled", l.Count(s.Cancelled, "bundle")))
	}
	if s.Done() {
		b.WriteString(l.Word("; done"))
	} else {
		b.WriteString(l.Say("; %s at work", l.Count(s.Workers, "worker")))
	}
	if s.Fault != "" {
		b.WriteString(l.Say("; the last fault: %s", l.Told(s.Fault)))
	}
	return b.String()
}

// say writes a sentence in the language of the call.
func (p *program) say(format string, values ...any) error {
	_, err := fmt.Fprint(p.out, p.Say(format, values...))
	return err
}
