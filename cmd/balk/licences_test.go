package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// permitted are the licences under which others' work may be linked in, by words that stand in each of them and in no other.
var permitted = map[string]*regexp.Regexp{
	"MIT":       regexp.MustCompile(`Permission is hereby granted, free of charge, to any person obtaining a copy of this software`),
	"BSD":       regexp.MustCompile(`Redistribution and use in source and binary forms, with or without modification, are permitted`),
	"Apache":    regexp.MustCompile(`Apache License,? Version 2\.0`),
	"ISC":       regexp.MustCompile(`Permission to use, copy, modify, and(/or)? distribute this software for any purpose`),
	"MPL":       regexp.MustCompile(`Mozilla Public License`),
	"Unlicense": regexp.MustCompile(`This is free and unencumbered software released into the public domain`),
	"fonts":     regexp.MustCompile(`Bitstream Vera|SIL OPEN FONT LICENSE`),
}

// copyleft licences would bind whoever hands balk on: by their titles, for others name them too.
var copyleft = regexp.MustCompile(`GNU (LESSER |LIBRARY |AFFERO )?GENERAL PUBLIC LICENSE`)

// TestLicences looks at the licence of every module that is linked into the command, on every system that it is handed out for.
func TestLicences(t *testing.T) {
	seen := map[string]bool{}
	for _, system := range []string{"linux", "windows", "darwin"} {
		t.Setenv("GOOS", system)
		t.Setenv("GOARCH", "amd64")
		t.Setenv("CGO_ENABLED", "0")
		list := within(t, root(t), "go", "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}} {{.Dir}}{{end}}{{end}}", "./cmd/balk")
		for line := range strings.Lines(list) {
			module, dir, ok := strings.Cut(strings.TrimSpace(line), " ")
			if !ok || seen[module] {
				continue
			}
			seen[module] = true
			if why := unfit(t, dir); why != "" {
				t.Errorf("%s: %s", module, why)
			}
		}
	}
	if len(seen) < 8 {
		t.Errorf("%d modules: the test does not see them", len(seen))
	}
}

// unfit says why what lies in the folder of a module may not be linked in; "" where it may.
func unfit(t *testing.T, dir string) string {
	t.Helper()
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, f := range files {
		if name := strings.ToLower(f.Name()); f.IsDir() || !strings.HasPrefix(name, "licen") && !strings.HasPrefix(name, "copying") && !strings.HasPrefix(name, "unlicense") {
			continue
		}
		raw, err := os.ReadFile(filepath.Join(dir, f.Name()))
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(string(raw)), " ")
		if copyleft.MatchString(text) {
			return f.Name() + " is a copyleft licence"
		}
		for _, words := range permitted {
			found = found || words.MatchString(text)
		}
	}
	if !found {
		return "no licence that is known"
	}
	return ""
}

func TestLicencesAreToldApart(t *testing.T) {
	for text, fits := range map[string]bool{
		"Permission is hereby granted, free of charge, to any\nperson obtaining a copy of this software": true,
		"GNU LESSER GENERAL PUBLIC LICENSE Version 3":                                                    false,
		"All rights reserved.": false,
	} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "LICENSE"), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		if why := unfit(t, dir); (why == "") != fits {
			t.Errorf("%q: %q", text, why)
		}
	}
	if unfit(t, t.TempDir()) == "" {
		t.Error("a module without a licence is taken")
	}
}
