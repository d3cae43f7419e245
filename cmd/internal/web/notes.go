package web

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/paulmach/orb"
)

// Note is what somebody found in the field at a strip or a place.
type Note struct {
	Kind   string    `json:"kind"` // strip or place
	Number int       `json:"number"`
	State  string    `json:"state"` // done, not found, left, or nothing yet
	When   string    `json:"when"`  // UTC
	At     orb.Point `json:"at"`    // lon, lat
	Note   string    `json:"note"`
	Photo  string    `json:"photo,omitempty"` // as a data URL
	Seen   *Seen     `json:"seen,omitempty"`  // at a place of a spot check
}

const (
	mostNotes = 64 << 20 // bytes that are sent at once: some hundred photos
	photoType = "data:image/jpeg;base64,"
)

var (
	noteKinds  = []string{"strip", "place"}
	noteStates = []string{"", "done", "not found", "left"}
)

func (n Note) validate() error {
	if !slices.Contains(noteKinds, n.Kind) || n.Number < 1 {
		return fmt.Errorf("a note on %.20q %d: must be on a strip or a place, by its number", n.Kind, n.Number)
	}
	if !slices.Contains(noteStates, n.State) {
		return fmt.Errorf("%s %d is %.20q: must be done, not found or left", n.Kind, n.Number, n.State)
	}
	if _, err := time.Parse(time.RFC3339Nano, n.When); err != nil {
		return badQuery("time", n.When)
	}
	if n.Photo != "" && !strings.HasPrefix(n.Photo, photoType) {
		return fmt.Errorf("the photo of %s %d: must be a JPEG", n.Kind, n.Number)
	}
	if n.Seen != nil {
		return n.Seen.validate(n.Number)
	}
	return nil
}

// notesPath is the file of the notes on the operation of a request, which must be there.
func (s *shelf) notesPath(r *http.Request) (string, error) {
	one, p, err := s.part(r.Context(), r.PathValue("id"))
	if err != nil {
		return "", err
	}
	if one.dir != "" {
		return filepath.Join(s.notes(one.id), p.id+".json"), nil
	}
	args := p.call()
	sum := sha256.Sum256([]byte(strings.Join(append(filesOf(args), flagOf(args, "field"), flagOf(args, "days")), "\x00")))
	return filepath.Join(s.notes("named"), hex.EncodeToString(sum[:8])+".json"), nil // files named in a call: others come under the same number
}

// notes is the folder of notes on a source.
func (s *shelf) notes(id string) string { return filepath.Join(s.Keep, "notes", id) }

func readNotes(path string) ([]Note, error) {
	all := []Note{}
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return all, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &all)
	}
	return all, err
}

func notes(s *shelf, w http.ResponseWriter, r *http.Request) error {
	path, err := s.notesPath(r)
	if err != nil {
		return err
	}
	s.noting.Lock()
	all, err := readNotes(path)
	s.noting.Unlock()
	if err != nil {
		return err
	}
	return give(w, all)
}

func putNotes(s *shelf, w http.ResponseWriter, r *http.Request) error {
	var given []Note
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, mostNotes)).Decode(&given); err != nil {
		return err
	}
	for _, n := range given {
		if err := n.validate(); err != nil {
			return err
		}
	}
	path, err := s.notesPath(r)
	if err != nil {
		return err
	}
	s.noting.Lock()
	defer s.noting.Unlock()
	all, err := readNotes(path)
	if err != nil {
		return err
	}
	all = together(all, given)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	if err := errors.Join(written(path, all), keepSeen(path, all)); err != nil {
		return err
	}
	return give(w, all)
}

// about is what a note is about: the same number at the same place, to a metre. A number alone is another strip's after a correction.
func (n Note) about() string {
	return fmt.Sprintf("%s %d %.5f %.5f", n.Kind, n.Number, n.At[0], n.At[1])
}

// together are two lists of notes as one: of two about the same the later holds.
func together(all, more []Note) []Note {
	for _, n := range more {
		at := slices.IndexFunc(all, func(one Note) bool { return one.about() == n.about() })
		switch {
		case at < 0:
			all = append(all, n)
		case !earlier(n, all[at]):
			all[at] = n
		}
	}
	return all
}

// earlier compares times as times: their texts may have other digits.
func earlier(a, b Note) bool {
	x, _ := time.Parse(time.RFC3339Nano, a.When) // both were looked at
	y, _ := time.Parse(time.RFC3339Nano, b.When)
	return x.Before(y)
}
