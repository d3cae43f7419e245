package job

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"balk/geo/read"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// StandingFile is the name of the file that says once what holds for all logs in its folder and those below.
const StandingFile = "balk.toml"

// Standing is what such a file says, by the names of flags, in the order of the file.
type Standing struct {
	Path   string
	Values []StandingValue
}

// StandingValue is one value.
type StandingValue struct {
	Name  string
	Line  int // on which it is first named
	Kind  StandingKind
	Texts []string // one; of a list as many as it has; of a table its NAME=VALUE, by name
}

// StandingKind is what a value is.
type StandingKind string

const (
	StandingText    StandingKind = "text"
	StandingNumber  StandingKind = "number"
	StandingWhole   StandingKind = "whole number"
	StandingTruth   StandingKind = "true or false"
	StandingList    StandingKind = "list"
	StandingTable   StandingKind = "table"
	standingUnknown StandingKind = ""
)

// Standing finds the file for some paths: in the folder of each, or in the nearest above it, up to the home folder or the border of
// the file system; nil: there is none. Paths to nothing count as they would lie. That they lie below two such files is refused.
func (c *Call) Standing(paths []string) (*Standing, error) {
	found, of := "", ""
	for _, path := range paths {
		if path == read.StandardInput {
			path = "."
		}
		one, err := standingAbove(path)
		if err != nil {
			return nil, err
		}
		if of != "" && one != found {
			return nil, wrong("%s and %s: they lie below different files %s: give them in two calls", of, path, StandingFile)
		}
		found, of = one, path
	}
	if found == "" {
		return nil, nil
	}
	text, err := c.description(found)
	if err != nil {
		return nil, err
	}
	s, err := decodeStanding(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", found, err)
	}
	s.Path = found
	return &s, nil
}

// IsLog tells whether a path holds logs and no field.
func (c *Call) IsLog(ctx context.Context, path string) bool {
	_, logs := c.Holds(ctx, path)
	return logs
}

// Holds tells whether a path holds fields that can be read as they are, or logs and no field.
func (c *Call) Holds(ctx context.Context, path string) (fields, logs bool) {
	c = c.ready()
	_, _, err := c.fields(ctx, path, Reading{})
	fault, told := errors.AsType[*read.FileError](err)
	_, folder := errors.AsType[*read.CallError](err)
	return err == nil, told && fault.Other() || folder
}

// standingAbove is the path of the nearest file for what lies at path; "" = there is none.
func standingAbove(path string) (string, error) {
	dir, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		dir = filepath.Dir(dir)
	}
	name, _ := os.UserHomeDir() // "" is no folder
	home, _ := os.Stat(name)    // it may be named by another way than dir is
	at, err := os.Stat(dir)
	for err == nil {
		file := filepath.Join(dir, StandingFile)
		if info, err := os.Stat(file); err == nil && info.Mode().IsRegular() {
			return shortest(file), nil
		}
		above := filepath.Dir(dir)
		if above == dir || os.SameFile(at, home) {
			return "", nil
		}
		was := at
		if at, err = os.Stat(above); err == nil && !sameDisk(was, at) {
			return "", nil
		}
		dir = above
	}
	return "", nil // a path to nothing, which is said where it is opened
}

// shortest is a path as seen from the working folder, where that is below it or it below that.
func shortest(path string) string {
	here, err := os.Getwd()
	if err != nil {
		return path
	}
	if short, err := filepath.Rel(here, path); err == nil && len(short) < len(path) {
		return short
	}
	return path
}

// decodeStanding reads the text of a file.
func decodeStanding(text []byte) (Standing, error) {
	text = bytes.TrimPrefix(text, []byte("\xef\xbb\xbf"))
	values, err := tomlTable(text)
	if err != nil {
		return Standing{}, err
	}
	var s Standing
	var p unstable.Parser
	for p.Reset(text); p.NextExpression(); {
		key := p.Expression().Key()
		if !key.Next() {
			continue
		}
		name := string(key.Node().Data)
		value, found := values[name]
		if !found {
			continue // it was there before
		}
		delete(values, name)
		line := p.Shape(key.Node().Raw).Start.Line
		one := StandingValue{Name: name, Line: line}
		if one.Kind, one.Texts = standingValue(value); one.Kind == standingUnknown {
			return Standing{}, fmt.Errorf("line %d: %s: must be a text, a number, true or false, a list of these or a table of these", line, name)
		}
		s.Values = append(s.Values, one)
	}
	return s, p.Error()
}

// standingValue is a value as flags take it.
func standingValue(v any) (StandingKind, []string) {
	switch v := v.(type) {
	case string:
		return StandingText, []string{v}
	case bool:
		return StandingTruth, []string{fmt.Sprint(v)}
	case int64:
		return StandingWhole, []string{fmt.Sprint(v)}
	case float64:
		return StandingNumber, []string{fmt.Sprint(v)}
	case toml.LocalDate, toml.LocalDateTime:
		return StandingText, []string{fmt.Sprint(v)}
	case []any:
		var all []string
		for _, one := range v {
			kind, text := standingValue(one)
			if kind == standingUnknown || kind == StandingList || kind == StandingTable {
				return standingUnknown, nil
			}
			all = append(all, text...)
		}
		return StandingList, all
	case map[string]any:
		var all []string
		for _, name := range slices.Sorted(maps.Keys(v)) {
			kind, text := standingValue(v[name])
			if kind == standingUnknown || kind == StandingList || kind == StandingTable {
				return standingUnknown, nil
			}
			all = append(all, name+"="+text[0])
		}
		return StandingTable, all
	}
	return standingUnknown, nil
}
