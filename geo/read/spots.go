package read

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"balk/geo"

	"github.com/paulmach/orb"
)

// SpotOptions say how spot checks are read.
type SpotOptions struct {
	Zone  *time.Location // of times that name none; nil: UTC
	Files *Files         // opens what is read; nil = nothing is kept of it
}

// maxSpots is the largest file of spot checks in GeoJSON, which is held in memory.
const maxSpots = 64 << 20 // bytes

const spotHint = "a table (CSV, XLSX) whose first line names the columns, as balk spots plan writes it; GeoJSON points with these as properties; or GPX waypoints with \"name=value; name=value\" in desc or cmt"

// Spots reads spot checks: a line of a table, a point of GeoJSON or a waypoint of GPX each. A record with something that is not
// understood or cannot be is left out whole, with a finding that says what; a record in which nothing was filled in is no check.
func Spots(path string, o SpotOptions) ([]geo.SpotCheck, []geo.Finding, error) {
	s, err := o.Files.source(path, true)
	if err != nil {
		return nil, nil, err
	}
	defer s.Close()
	return spotsOf(s.from, s.file, s.format, o)
}

func spotsOf(from io.Reader, file string, f format, o SpotOptions) ([]geo.SpotCheck, []geo.Finding, error) {
	r := spotReader{notes: tally{file: file, clock: localClock{zone: o.Zone}}}
	var err error
	switch f {
	case csvFormat:
		err = r.table(from)
	case geojsonFormat:
		err = r.features(from)
	case gpxFormat:
		err = r.waypoints(from)
	default:
		err = &FileError{File: file, What: "no spot checks: a table, GeoJSON or GPX is wanted", Hint: spotHint}
	}
	if err != nil {
		return nil, nil, err
	}
	if len(r.list) == 0 && r.blank > 0 {
		return nil, nil, &FileError{File: file, What: fmt.Sprintf("no spot check: nothing is filled in at any of %d places", r.blank), Hint: spotHint}
	}
	if r.blank > 0 {
		r.notes.add(0, nil, false, fmt.Sprintf("nothing is filled in at %d of %d places: not looked at", r.blank, r.blank+len(r.list)))
	}
	if len(r.list) == 0 {
		return nil, nil, r.notes.nothing("no spot check", spotHint, false)
	}
	return r.list, r.notes.findings(), nil
}

type spotReader struct {
	notes tally
	list  []geo.SpotCheck
	blank int
}

// spotText is a value of a record by the name of its column.
type spotText struct{ name, text string }

// record takes in a record.
func (r *spotReader) record(number int, at *orb.Point, values []spotText) {
	c := geo.SpotCheck{File: r.notes.file, Record: number, At: at}
	var p spotParts
	for _, v := range values {
		what, factor := spotMeaning(v.name)
		text := trim([]byte(v.text))
		none := strings.EqualFold(string(text), "none") && (what == spotRibs || what == spotPlantsCounted || what == spotPlantsCover)
		if what == spotNone || isAbsent(text) && !none {
			continue
		}
		if err := r.put(&c, &p, what, factor, text); err != nil {
			r.notes.add(number, c.At, true, fmt.Sprintf("%q: %s: the spot check is left out", clip(v.name), err))
			return
		}
	}
	err := p.into(&c)
	if err == nil && c.At != nil && !geo.OnEarth(c.At[0], c.At[1]) {
		err, c.At = fmt.Errorf("%g, %g is no place: %s", c.At[0], c.At[1], geo.PlaceHint(c.At[0], c.At[1])), nil
	}
	if err == nil {
		err = c.Validate()
	}
	switch {
	case err != nil:
		r.notes.add(number, c.At, true, err.Error()+": the spot check is left out")
	case c.Blank():
		r.blank++
	default:
		r.list = append(r.list, c)
	}
}

// spotParts are what several columns say together.
type spotParts struct {
	lon, lat        float64
	hasLon, hasLat  bool
	lap             float64
	hasLap, hasHand bool
	left, same      bool
	other           int
}

func (p *spotParts) into(c *geo.SpotCheck) error {
	switch {
	case p.hasLon != p.hasLat:
		return errors.New("longitude and latitude: one of them is missing")
	case p.hasLon:
		c.At = &orb.Point{p.lon, p.lat}
	}
	switch {
	case p.hasLap && !p.hasHand:
		return errors.New("a lap or gap, and not at which hand it is (join_hand: left or right)")
	case p.hasLap:
		c.Join = &geo.SpotJoin{Left: p.left, Lap: p.lap, Same: p.same, Other: p.other}
	}
	return nil
}

// put takes in one value.
func (r *spotReader) put(c *geo.SpotCheck, p *spotParts, what spotColumn, factor float64, text []byte) (err error) {
	words := strings.ToValidUTF8(string(text), "\uFFFD")
	number := func(into *float64) {
		v, _, _, ok := decimal(text)
		if !ok {
			err = fmt.Errorf("%s is no number", inQuotes(text))
			return
		}
		*into = v * factor
	}
	whole := func(into *int, least int) {
		v, e := strconv.Atoi(words)
		if e != nil || v < least || v > 1<<31-1 {
			err = fmt.Errorf("%s is no whole number from %d on", inQuotes(text), least)
			return
		}
		*into = v
	}
	yes := func(into *geo.Yes) {
		switch v, known := spotYes[strings.ToLower(words)]; {
		case !known:
			err = fmt.Errorf("%s: must be yes or no", inQuotes(text))
		case v:
			*into = geo.IsSo
		default:
			*into = geo.NotSo
		}
	}
	flag := func(into *bool) {
		var y geo.Yes
		yes(&y)
		*into = y == geo.IsSo
	}
	chosen := func(of map[string]string) string {
		v, known := of[strings.ToLower(words)]
		if !known {
			err = fmt.Errorf("%s: must be %s", inQuotes(text), strings.Join(slices.Compact(slices.Sorted(maps.Values(of))), " or "))
		}
		return v
	}
	switch what {
	case spotID:
		c.ID = words
	case spotLon:
		number(&p.lon)
		p.hasLon = true
	case spotLat:
		number(&p.lat)
		p.hasLat = true
	case spotAccuracy:
		number(&c.Accuracy)
	case spotTime:
		s, zoned, ok := r.notes.dated(text)
		if !ok {
			return fmt.Errorf("%s is no time", inQuotes(text))
		}
		if !zoned {
			s = r.notes.unzoned(c.Record, s)
		}
		c.Time = geo.Instant(s)
	case spotWhy:
		c.Why = geo.SpotReason(chosen(spotReasons))
	case spotOperation:
		c.Operation = words
	case spotPass:
		whole(&c.Pass, 1)
	case spotSection:
		whole(&c.Section, 1)
	case spotStrip:
		whole(&c.Strip, 1)
	case spotFrom:
		number(&c.From)
	case spotLength:
		number(&c.Length)
	case spotWidth:
		number(&c.Width)
	case spotCut:
		yes(&c.Cut)
	case spotRibs:
		if spotNothing[strings.ToLower(words)] {
			if c.Cut == geo.NotSaid {
				c.Cut = geo.IsSo
			}
			break
		}
		if c.Ribs, err = spotValues(words, factor); err == nil && slices.ContainsFunc(c.Ribs, func(v geo.SpotValue) bool { return v.At < 0 }) {
			err = errors.New("a rib without its place: must be PLACE:WIDTH, metres from the bar's left end and centimetres, as 1.20:5")
		}
	case spotDepths:
		c.Depths, err = spotValues(words, factor)
	case spotSmeared:
		yes(&c.Smeared)
	case spotBurial:
		c.Burial, err = spotNames(words, factor)
	case spotSeed:
		c.Seed, err = spotNames(words, factor)
	case spotPlantsCounted, spotPlantsCover:
		c.Looked = true
		if !spotNothing[strings.ToLower(words)] {
			var plants []geo.SpotPlants
			plants, err = spotPlants(words, what == spotPlantsCover)
			c.Plants = append(c.Plants, plants...)
		}
	case spotVisit:
		whole(&c.Visit, 1)
	case spotUntreated:
		flag(&c.Untreated)
	case spotHand:
		p.left, p.hasHand = chosen(spotHands) == "left", true
	case spotLap:
		if p.hasLap {
			return errors.New("a lap and a gap: only one can be")
		}
		number(&p.lap)
		p.hasLap = true
	case spotWay:
		p.same = chosen(spotWays) == "same"
	case spotOther:
		whole(&p.other, 1)
	case spotNote:
		c.Note = words
	case spotPhoto:
		c.Photo = words
	}
	return err
}

// pieces are the parts of a cell that holds several: apart by ; or | or a line's end, or, where blank says so, by blanks.
func pieces(words string, blank bool) []string {
	cut := func(r rune) bool { return r == ';' || r == '|' || r == '\n' }
	if blank && !strings.ContainsFunc(words, cut) {
		return strings.Fields(words)
	}
	var out []string
	for _, p := range strings.FieldsFunc(words, cut) {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return out
}

// most values of one cell; more is no spot check.
const mostSpotValues = 100

// spotValues reads values with their places on the bar, as "1.20:5 3.4:3"; a value alone has no place.
func spotValues(words string, factor float64) (out []geo.SpotValue, err error) {
	list := pieces(words, true)
	if len(list) > mostSpotValues {
		return nil, fmt.Errorf("%d values: must be %d at the most", len(list), mostSpotValues)
	}
	for _, p := range list {
		p = strings.TrimSuffix(p, ",") // between values
		v := geo.SpotValue{At: -1}
		at, amount, placed := strings.Cut(p, ":")
		if !placed {
			amount = at
		}
		x, _, _, ok := decimal([]byte(strings.TrimSpace(amount)))
		if placed && ok {
			v.At, _, _, ok = decimal([]byte(strings.TrimSpace(at)))
			ok = ok && v.At >= 0
		}
		if !ok {
			return nil, fmt.Errorf("%q: a number is wanted, or PLACE:NUMBER with metres from the bar's left end", clip(p))
		}
		v.Value = x * factor
		out = append(out, v)
	}
	return out, nil
}

// named cuts "what:number" at the last colon.
func named(p string) (what, number string, ok bool) {
	i := strings.LastIndexByte(p, ':')
	if i < 0 {
		return "", "", false
	}
	what, number = strings.TrimSpace(p[:i]), strings.TrimSpace(p[i+1:])
	return what, number, what != "" && number != ""
}

// spotNames reads depths by name, as "coarse:3.5 | fine:1".
func spotNames(words string, factor float64) (out []geo.SpotNamed, err error) {
	for _, p := range pieces(words, strings.Count(words, ":") > 1) {
		what, number, ok := named(p)
		x, _, _, isNumber := decimal([]byte(number))
		if !ok || !isNumber || len(out) == mostSpotValues {
			return nil, fmt.Errorf("%q: WHAT:DEPTH is wanted, at most %d times", clip(p), mostSpotValues)
		}
		out = append(out, geo.SpotNamed{What: what, Depth: x * factor})
	}
	return out, nil
}

// spotPlants reads amounts by kind with the BBCH stage, as "creeping thistle:12@14 | couch:3".
func spotPlants(words string, cover bool) (out []geo.SpotPlants, err error) {
	for _, p := range pieces(words, strings.Count(words, ":") > 1) {
		kind, amount, ok := named(p)
		plant := geo.SpotPlants{Kind: kind, Cover: cover, Stage: -1}
		amount, stage, staged := strings.Cut(amount, "@")
		x, _, _, isNumber := decimal([]byte(strings.TrimSpace(amount)))
		if plant.Amount = x; staged {
			if plant.Stage, err = strconv.Atoi(strings.TrimSpace(stage)); err != nil || plant.Stage < 0 {
				isNumber = false
			}
		}
		if !ok || !isNumber || len(out) == mostSpotValues {
			return nil, fmt.Errorf("%q: KIND:AMOUNT or KIND:AMOUNT@STAGE is wanted, at most %d times", clip(p), mostSpotValues)
		}
		out = append(out, plant)
	}
	return out, nil
}
