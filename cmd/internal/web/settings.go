package web

import (
	"errors"
	"fmt"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"balk/cmd/internal/job"
)

// ofTheSet are the flags whose values stand in the file of a set too.
var ofTheSet = []string{"width", "overlap", "mount"}

// Rewritten is the file of a set in which values were changed.
type Rewritten struct {
	File string `json:"file"` // its name
}

// rewrite writes what is supposed of a set into its file, where it holds for the commands too.
func rewrite(s *shelf, w http.ResponseWriter, r *http.Request) error {
	_, p, err := s.part(r.Context(), r.PathValue("id"))
	if err != nil {
		return err
	}
	args := p.call()
	path := flagOf(args, "implement")
	if path == "" {
		return errors.New("the call names no file of a set to write this into")
	}
	flags, err := with(nil, r.URL.Query(), ofTheSet)
	if err != nil {
		return err
	}
	values := map[string]float64{}
	for i := 0; i < len(flags); i += 2 {
		name, text := strings.TrimPrefix(flags[i], "--"), flags[i+1]
		if flagOf(args, name) != "" {
			return fmt.Errorf("--%s: the call gives it, whatever the file of the set says", name)
		}
		member, value := name, text
		if name == "mount" {
			member, value, _ = strings.Cut(text, "=")
			member = "mount." + member
		}
		if values[member], err = strconv.ParseFloat(value, 64); err != nil {
			return fmt.Errorf("--%s %.20q: no value", name, text)
		}
	}
	if len(values) == 0 {
		return errors.New("nothing is supposed otherwise")
	}
	s.noting.Lock()
	err = job.Rewrite(path, values, time.Now())
	s.noting.Unlock()
	if err != nil {
		return err
	}
	if err := s.corrected(r.Context()); err != nil {
		return err
	}
	return give(w, Rewritten{filepath.Base(path)})
}
