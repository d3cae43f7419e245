package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"balk/cmd/internal/help"
)

// A page per verb and per topic, dated as told, with what help says and, for a verb, its flags and exit codes.
func TestPages(t *testing.T) {
	dir := t.TempDir()
	if err := write(dir, "1776148200"); err != nil { // 14 April 2026
		t.Fatal(err)
	}
	want := map[string][]string{
		"balk.1":       {"balk - find the strips", "balk demo out/farm", "130  interrupted", "balk-check(1)"},
		"balk-check.1": {"[FIELD] TRACK...", "\\fB--pass-error", "Exit codes"},
		"balk-turn.1":  {"\\fB--headland", "Reeds and Shepp"},
	}
	for _, name := range []string{"batch", "batch-status", "demo", "compare", "serve", "sweeps", "handover", "spots", "spots-plan", "spots-read",
		"season", "season-add", "season-list", "season-show", "season-sheet", "season-remove", "season-export", "season-import"} {
		want["balk-"+name+".1"] = nil
	}
	for _, topic := range help.Topics {
		want["balk-"+topic+".7"] = nil
	}
	want["balk-exit.7"] = []string{"130  interrupted", "SEE ALSO"}
	want["balk-accuracy.7"] = []string{"differential  34 cm"}
	files, err := os.ReadDir(dir)
	if err != nil || len(files) != len(want) {
		t.Errorf("%d pages, want %d (%v)", len(files), len(want), err)
	}
	for name, words := range want {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Error(err)
			continue
		}
		for _, w := range append(words, "Apr 2026") {
			if !strings.Contains(strings.ToLower(string(text)), strings.ToLower(w)) {
				t.Errorf("%s lacks %q", name, w)
			}
		}
	}
	if err := write(dir, ""); err == nil {
		t.Error("no date, and no error")
	}
	if err := write(filepath.Join(dir, "missing"), "0"); err == nil {
		t.Error("a folder that is not there, and no error")
	}
}
