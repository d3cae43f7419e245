package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"balk/cmd/internal/farm"
	"balk/cmd/internal/job"
	"balk/geo"

	"github.com/paulmach/orb"
)

// Correction is what somebody knows better than boundary or log; see balk help farm.
type Correction struct {
	Number int64         `json:"number"`
	Kind   string        `json:"kind"`
	Place  []orb.Point   `json:"place"`           // lon, lat: of a gate one, of ground its corners
	Holes  [][]orb.Point `json:"holes,omitempty"` // of ground
	Begin  string        `json:"begin,omitempty"`
	End    string        `json:"end,omitempty"`
	Who    string        `json:"who"`
	Made   string        `json:"made"`
	Why    string        `json:"why"`
}

// mostCorrection is the most that a correction takes, bytes.
const mostCorrection = 1 << 20

// farmOf is the farm whose corrections are meant by a call, or the one in the folder of the page.
func (s *shelf) farmOf(spec job.Spec) string {
	if spec.Farm != "" {
		return spec.Farm
	}
	return s.farm()
}

// fieldAsked is the operation of a request, judged as it was driven.
func (s *shelf) fieldAsked(r *http.Request) (*source, judged, error) {
	one, p, err := s.part(r.Context(), r.PathValue("id"))
	if err != nil {
		return nil, judged{}, err
	}
	j, err := s.judge(r.Context(), one, p, p.call(), true)
	return one, j, err
}

func corrections(s *shelf, w http.ResponseWriter, r *http.Request) error {
	_, j, err := s.fieldAsked(r)
	if err != nil {
		return err
	}
	all, err := j.spec.Corrections(r.Context(), j.report.Field.Name)
	if err != nil {
		return err
	}
	out := []Correction{}
	for _, c := range all {
		out = append(out, correctionOf(c))
	}
	return give(w, out)
}

func correctionOf(c farm.Correction) Correction {
	one := Correction{Number: c.Number, Kind: string(c.Kind), Place: []orb.Point{}, Begin: instant(c.Begin), End: instant(c.End), Who: geo.Shown(c.Who), Made: instant(c.Made), Why: geo.Shown(c.Why)}
	switch place := c.Place.(type) {
	case orb.Point:
		one.Place = []orb.Point{place}
	case orb.Polygon:
		one.Place = place[0]
		for _, hole := range place[1:] {
			one.Holes = append(one.Holes, hole)
		}
	case orb.MultiPolygon:
		one.Place = place[0][0]
	}
	return one
}

// instant is a time as the interface has it; "" for none.
func instant(at time.Time) string {
	if at.IsZero() {
		return ""
	}
	return at.UTC().Format(time.RFC3339Nano)
}

// of is c as a farm has it. Which places and times a kind has, the farm says.
func (c Correction) of(now time.Time) (out farm.Correction, err error) {
	out = farm.Correction{Kind: farm.Kind(c.Kind), Who: c.Who, Why: c.Why, Made: now}
	for _, one := range []struct {
		text string
		to   *time.Time
	}{{c.Begin, &out.Begin}, {c.End, &out.End}} {
		if one.text == "" {
			continue
		}
		if *one.to, err = time.Parse(time.RFC3339Nano, one.text); err != nil {
			return farm.Correction{}, badQuery("time", one.text)
		}
	}
	switch {
	case len(c.Place) == 1:
		out.Place = c.Place[0]
	case len(c.Place) > 2:
		ground := orb.Polygon{}
		for _, corners := range append([][]orb.Point{c.Place}, c.Holes...) {
			ring := orb.Ring(corners)
			if len(ring) < 3 {
				return farm.Correction{}, fmt.Errorf("a hole of %d corners: must be three or more", len(ring))
			}
			if !ring.Closed() {
				ring = append(ring, ring[0])
			}
			ground = append(ground, ring)
		}
		out.Place = ground
	case len(c.Place) == 2:
		return farm.Correction{}, errors.New("a place of two corners: must be one, or three and more")
	}
	return out, nil
}

func putCorrection(s *shelf, w http.ResponseWriter, r *http.Request) error {
	var c Correction
	body := json.NewDecoder(http.MaxBytesReader(w, r.Body, mostCorrection))
	body.DisallowUnknownFields()
	if err := body.Decode(&c); err != nil {
		return err
	}
	made, err := c.of(time.Now().UTC())
	if err != nil {
		return err
	}
	one, j, err := s.fieldAsked(r)
	if err != nil {
		return err
	}
	if made.Number, err = one.opened.Correct(r.Context(), s.farmOf(j.spec), j.report.Field.Number, made); err != nil {
		return err
	}
	if err := s.corrected(r.Context()); err != nil {
		return err
	}
	if _, _, err := s.fieldAsked(r); err != nil { // nothing is left of the log, say: nobody could look at it to take it back
		dir := s.farmOf(j.spec)
		return errors.Join(err, job.Withdraw(context.WithoutCancel(r.Context()), dir, made.Number, made.Made), s.corrected(context.WithoutCancel(r.Context())))
	}
	return give(w, correctionOf(made))
}

func withdraw(s *shelf, w http.ResponseWriter, r *http.Request) error {
	_, p, err := s.part(r.Context(), r.PathValue("id"))
	if err != nil {
		return err
	}
	number, err := strconv.ParseInt(r.PathValue("number"), 10, 64)
	if err != nil {
		return errNotThere
	}
	spec, err := s.Spec(r.Context(), p.call())
	if err != nil {
		return err
	}
	if err := job.Withdraw(r.Context(), s.farmOf(spec), number, time.Now().UTC()); err != nil {
		return err
	}
	if err := s.corrected(r.Context()); err != nil {
		return err
	}
	w.WriteHeader(http.StatusNoContent)
	return nil
}
