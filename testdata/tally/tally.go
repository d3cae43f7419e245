package tally

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// entry is a line of the file.
type entry[T any] struct {
	Hash    string `json:"hash"` // of the code
	Outcome T      `json:"outcome"`
}

// Read are the outcomes in a file that stand on the code of that hash; no file: none.
func Read[T any](path, hash string) (out []T, err error) {
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	for line := range bytes.Lines(b) {
		var e entry[T]
		if json.Unmarshal(line, &e) == nil && e.Hash == hash { // a line cut off by a kill is worked out again
			out = append(out, e.Outcome)
		}
	}
	return out, nil
}

// Append opens a file, made if need be with its folder, and gives a function that adds an outcome to it.
func Append[T any](path, hash string) (add func(T) error, closed func() error, err error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, nil, err
	}
	f, err := os.OpenFile(path, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return nil, nil, err
	}
	add = func(o T) error {
		b, err := json.Marshal(entry[T]{hash, o})
		if err != nil {
			return err
		}
		_, err = f.Write(append(b, '\n'))
		return err
	}
	return add, f.Close, nil
}

// CodeHash is a hash of the code below some folders, tests left out.
func CodeHash(tops ...string) (string, error) {
	h := sha256.New()
	for _, top := range tops {
		err := filepath.WalkDir(top, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
				return err
			}
			b, err := os.ReadFile(path)
			fmt.Fprintln(h, filepath.ToSlash(path), len(b))
			h.Write(b)
			return err
		})
		if err != nil {
			return "", err
		}
	}
	return fmt.Sprintf("%x", h.Sum(nil)[:6]), nil
}
