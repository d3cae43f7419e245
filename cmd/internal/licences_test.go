package internal

import (
	"bytes"
	"compress/gzip"
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"balk/cmd/internal/help"
)

var update = flag.Bool("update", false, "write the notices of what is linked into balk today")

// systems are those that balk is handed out for (.ci/release).
var systems = []string{"linux/amd64", "linux/arm64", "windows/amd64", "darwin/amd64", "darwin/arm64"}

// licences are those that may be linked into a work under the MIT licence and handed out with no more than a notice, or (MPL) with
// the way to the file as it stands. Each is known by words that only it has.
var licences = map[string]*regexp.Regexp{
	"MIT":           regexp.MustCompile(`Permission is hereby granted, free of charge, to any person obtaining a copy of this software`),
	"BSD":           regexp.MustCompile(`Redistribution and use in source and binary forms, with or without modification`),
	"Apache":        regexp.MustCompile(`Apache License,? Version 2\.0`),
	"ISC":           regexp.MustCompile(`Permission to use, copy, modify, and(/or)? distribute this software for any purpose with or without fee`),
	"MPL":           regexp.MustCompile(`Mozilla Public License,? Version 2\.0`),
	"Unlicense":     regexp.MustCompile(`This is free and unencumbered software released into the public domain`),
	"fonts":         regexp.MustCompile(`Permission is hereby granted, free of charge, to any person obtaining a copy of the fonts`),
	"public domain": regexp.MustCompile(`SQLite Is Public Domain`),
	"patents":       regexp.MustCompile(`Additional IP Rights Grant \(Patents\)`),
}

// copyleft is the head of a licence that asks more of who links it. The Mozilla licence names some in a line of its own.
var copyleft = regexp.MustCompile(`(?i)GNU (Lesser |Library |Affero )?General Public License\W+Version|(?i)European Union Public Licen[cs]e|(?i)Common Development and Distribution License|(?i)Eclipse Public License`)

var secondary = regexp.MustCompile(`(?is)means either the GNU General Public License, Version 2\.0, the GNU Lesser General Public License, Version 2\.1, the GNU Affero General Public License, Version 3\.0`)

// kinds are the licences in a text, or an error if there is none that is known, or one that may not be linked.
func kinds(text string) ([]string, error) {
	words := secondary.ReplaceAllString(strings.Join(strings.Fields(text), " "), "")
	if found := copyleft.FindString(words); found != "" {
		return nil, fmt.Errorf("says %q", found)
	}
	var out []string
	for _, name := range slices.Sorted(maps.Keys(licences)) {
		if licences[name].MatchString(words) {
			out = append(out, name)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("no licence that is known: %.80q", words)
	}
	return out, nil
}

var noticeFile = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|copyright|patents|unlicense)`)

// TestLicences reads the licence of every module that is linked in on any system, takes none that asks for more than a notice,
// and holds the notices that balk shows (balk help licences) to what stands in the modules.
func TestLicences(t *testing.T) {
	dirs := map[string]string{}
	for _, system := range systems {
		for line := range strings.Lines(inRoot(t, system, "list", "-deps", "-f", "{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}\t{{.Dir}}{{end}}{{end}}", "./cmd/balk", "./cmd/balk-many")) {
			if module, dir, ok := strings.Cut(strings.TrimSpace(line), "\t"); ok {
				dirs[module] = dir
			}
		}
	}
	if len(dirs) < 10 {
		t.Fatalf("%d modules: the test does not see them", len(dirs))
	}
	root := filepath.Join("..", "..")
	goroot := strings.TrimSpace(inRoot(t, "", "env", "GOROOT"))
	var b strings.Builder
	b.WriteString("balk is licensed as in the first of these texts. Linked into it are parts of the works behind it.\n")
	seen := map[string]string{} // whose file says the same
	add := func(of, dir string) {
		files, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, "\n== %s\n", of)
		licensed := false
		for _, f := range files {
			if f.IsDir() || !noticeFile.MatchString(f.Name()) || strings.HasSuffix(f.Name(), "-LOGO") { // a picture, in no binary
				continue
			}
			text, err := os.ReadFile(filepath.Join(dir, f.Name()))
			if err != nil {
				t.Fatal(err)
			}
			found, err := kinds(string(text))
			if err != nil {
				t.Errorf("%s: %s %v", of, f.Name(), err)
			}
			licensed = licensed || len(found) > 0 && found[0] != "patents"
			fmt.Fprintf(&b, "\n-- %s (%s)\n\n", f.Name(), strings.Join(found, ", "))
			if same, known := seen[string(text)]; known {
				fmt.Fprintf(&b, "as %s of %s\n", f.Name(), same)
				continue
			}
			seen[string(text)] = of
			b.WriteString(strings.TrimRight(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n") + "\n")
		}
		if !licensed {
			t.Errorf("%s: no licence in its folder", of)
		}
	}
	add("balk", root)
	add("Go, its runtime and standard library", goroot)
	add("fonts DejaVu Sans Condensed, regular and bold", filepath.Join(root, "export", "sheet", "paper", "fonts"))
	page, err := filepath.Glob(filepath.Join(root, "cmd", "internal", "web", "licences", "*"))
	if err != nil || len(page) == 0 {
		t.Fatalf("%d packages bundled into the page: %v", len(page), err)
	}
	for _, dir := range page {
		add(strings.ReplaceAll(filepath.Base(dir), "+", "/")+", in the page of balk serve", dir)
	}
	for _, module := range slices.Sorted(maps.Keys(dirs)) {
		add(module, dirs[module])
	}
	if *update {
		var packed bytes.Buffer
		z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := z.Write([]byte(b.String())); err != nil || z.Close() != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join("help", "notices.gz"), packed.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if help.Notices() != b.String() {
		t.Error("the notices are not those of what is linked in (go test ./cmd/internal -run Licences -update renews them)")
	}
}

func TestLicencesThatAreTold(t *testing.T) {
	for situation, c := range map[string]struct{ text, want string }{
		"MIT over two lines":            {"Permission is hereby granted, free of charge, to any\n person obtaining a copy of this software and", "MIT"},
		"one of two":                    {"Unlicense OR BSD\nRedistribution and use in source and binary forms, with or without modification, are\nThis is free and unencumbered software released into the public domain.", "BSD, Unlicense"},
		"Mozilla's, which names others": {"Mozilla Public License Version 2.0\n\"Secondary License\" means either the GNU General Public License, Version 2.0, the\nGNU Lesser General Public License, Version 2.1, the GNU Affero General\nPublic License, Version 3.0, or", "MPL"},
		"none":                          {"All rights reserved.", ""},
		"a lesser one":                  {"GNU LESSER GENERAL PUBLIC LICENSE\n   Version 2.1, February 1999", ""},
		"the great one beside another":  {"Redistribution and use in source and binary forms, with or without modification, or the GNU General Public License version 3", ""},
	} {
		found, err := kinds(c.text)
		if got := strings.Join(found, ", "); got != c.want || (err == nil) != (c.want != "") {
			t.Errorf("%s: %q, %v", situation, got, err)
		}
	}
}
