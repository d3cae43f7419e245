package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"balk/export/vector"

	"github.com/paulmach/orb"
)

// The layers of operations as OGC API – Features, Part 1: Core (OGC 17-069r4) with GeoJSON, so that a GIS opens them from the running page.
const (
	featuresPath  = "/ogc"
	usualFeatures = 1000   // of a page of features where none is asked for
	mostFeatures  = 10_000 // of a page
)

var conformance = []string{
	"http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core",
	"http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/geojson",
}

// Link leads from one answer to another.
type Link struct {
	Href  string `json:"href"`
	Rel   string `json:"rel"`
	Type  string `json:"type"`
	Title string `json:"title,omitempty"`
}

// Collection is a layer of an operation.
type Collection struct {
	ID     string   `json:"id"`
	Title  string   `json:"title"`
	Extent Extent   `json:"extent"`
	Type   string   `json:"itemType"`
	CRS    []string `json:"crs"`
	Links  []Link   `json:"links"`
}

// Extent is where features lie: west, south, east, north.
type Extent struct {
	Spatial struct {
		BBox [][4]float64 `json:"bbox"`
		CRS  string       `json:"crs"`
	} `json:"spatial"`
}

// Collections are all that are read.
type Collections struct {
	Collections []Collection `json:"collections"`
	Links       []Link       `json:"links"`
}

// Landing is where a GIS begins.
type Landing struct {
	Title string `json:"title"`
	Links []Link `json:"links"`
}

// Conformance says what is kept to.
type Conformance struct {
	ConformsTo []string `json:"conformsTo"`
}

const (
	crs84   = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
	geoJSON = "application/geo+json"
)

// link is one to a path of this server, with the token where the request had it in its address.
func link(r *http.Request, path string, query url.Values, rel, kind string) Link {
	q := url.Values{}
	for k, v := range query {
		q[k] = v
	}
	if token := r.URL.Query().Get(tokenName); token != "" {
		q.Set(tokenName, token)
	}
	return Link{Href: (&url.URL{Scheme: "http", Host: r.Host, Path: path, RawQuery: q.Encode()}).String(), Rel: rel, Type: kind}
}

func landing(_ *shelf, w http.ResponseWriter, r *http.Request) error {
	return give(w, Landing{"balk serve", []Link{
		link(r, featuresPath, nil, "self", "application/json"),
		link(r, "/api/openapi.json", nil, "service-desc", "application/vnd.oai.openapi+json;version=3.1"),
		link(r, featuresPath+"/conformance", nil, "conformance", "application/json"),
		link(r, featuresPath+"/collections", nil, "data", "application/json"),
	}})
}

func conforms(_ *shelf, w http.ResponseWriter, _ *http.Request) error {
	return give(w, Conformance{conformance})
}

func collections(s *shelf, w http.ResponseWriter, r *http.Request) error {
	s.mu.Lock()
	sources := slices.Clone(s.sources)
	s.mu.Unlock()
	out := Collections{[]Collection{}, []Link{link(r, featuresPath+"/collections", nil, "self", "application/json")}}
	for _, one := range sources {
		if one.dir == "" { // named in the call, or the farm: read now if nobody looked at it yet
			if _, _, err := s.part(r.Context(), one.id+".1"); err != nil {
				continue
			}
		}
		now, parts, _ := one.now()
		if !now.Over || now.Err != nil {
			continue
		}
		for _, p := range parts {
			j, err := s.judge(r.Context(), one, p, p.call(), true)
			if err != nil {
				continue // a set that only drove over that field
			}
			for _, layer := range vector.LayersIn(j.result) {
				out.Collections = append(out.Collections, collectionOf(r, p.id, j, layer))
			}
		}
	}
	return give(w, out)
}

func collectionOf(r *http.Request, id string, j judged, layer string) Collection {
	c := Collection{ID: id + "." + layer, Title: j.report.Field.Shown() + ": " + layer, Type: "feature", CRS: []string{crs84}}
	box := j.result.Field.Boundary.Bound().Pad(1e-3)
	c.Extent.Spatial.BBox = [][4]float64{{box.Min[0], box.Min[1], box.Max[0], box.Max[1]}}
	c.Extent.Spatial.CRS = crs84
	path := featuresPath + "/collections/" + c.ID
	c.Links = []Link{link(r, path, nil, "self", "application/json"), link(r, path+"/items", nil, "items", geoJSON)}
	return c
}

// layerAsked is the layer of an operation that a request names.
func (s *shelf) layerAsked(r *http.Request) (id string, j judged, layer string, err error) {
	name := r.PathValue("layer")
	at := strings.LastIndexByte(name, '.')
	if at < 0 {
		return "", judged{}, "", errNotThere
	}
	id, layer = name[:at], name[at+1:]
	one, p, err := s.part(r.Context(), id)
	if err == nil {
		j, err = s.judge(r.Context(), one, p, p.call(), true)
	}
	if err == nil && !slices.Contains(vector.LayersIn(j.result), layer) {
		err = errNotThere
	}
	return id, j, layer, err
}

func collection(s *shelf, w http.ResponseWriter, r *http.Request) error {
	id, j, layer, err := s.layerAsked(r)
	if err != nil {
		return err
	}
	return give(w, collectionOf(r, id, j, layer))
}

// page is which features of a layer are asked for.
type page struct {
	limit, offset int
	box           *orb.Bound
}

func pageOf(q url.Values) (p page, err error) {
	p.limit = usualFeatures
	for name, value := range map[string]*int{"limit": &p.limit, "offset": &p.offset} {
		if text := q.Get(name); text != "" {
			if *value, err = strconv.Atoi(text); err != nil || *value < 0 || name == "limit" && *value == 0 {
				return page{}, badQuery(name, text)
			}
		}
	}
	p.limit = min(p.limit, mostFeatures) // as the standard has it: no error, and the link "next" leads on
	if text := q.Get("bbox"); text != "" {
		var n []float64
		for part := range strings.SplitSeq(text, ",") {
			v, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
			if err != nil {
				return page{}, badQuery("bbox", text)
			}
			n = append(n, v)
		}
		switch len(n) {
		case 4:
			p.box = &orb.Bound{Min: orb.Point{n[0], n[1]}, Max: orb.Point{n[2], n[3]}}
		case 6:
			p.box = &orb.Bound{Min: orb.Point{n[0], n[1]}, Max: orb.Point{n[3], n[4]}}
		default:
			return page{}, badQuery("bbox", text)
		}
	}
	for name := range q {
		if !slices.Contains([]string{"limit", "offset", "bbox", "datetime", "f", tokenName}, name) {
			return page{}, badQuery(name, q.Get(name))
		}
	}
	return p, nil
}

// queryError is a query that cannot be answered.
type queryError struct{ name, value string }

func (e *queryError) Error() string { return fmt.Sprintf("%s %q: not understood", e.name, e.value) }

func badQuery(name, value string) error { return &queryError{name, value} }

// layerOf is a layer of an operation with its features.
func layerOf(j judged, name string) (vector.Layer, error) {
	layers, err := vector.LayersOf(j.result)
	if err != nil {
		return vector.Layer{}, err
	}
	at := slices.IndexFunc(layers, func(l vector.Layer) bool { return l.Name == name })
	if at < 0 {
		return vector.Layer{}, errNotThere
	}
	return layers[at], nil
}

// items are the features of a layer, a page at a time.
func items(s *shelf, w http.ResponseWriter, r *http.Request) error {
	asked, err := pageOf(r.URL.Query())
	if err != nil {
		return err
	}
	id, j, name, err := s.layerAsked(r)
	if err != nil {
		return err
	}
	l, err := layerOf(j, name)
	if err != nil {
		return err
	}
	var numbers []int // of the features, from 1
	var kept []vector.Feature
	for k, f := range l.Features {
		if asked.box == nil || f.Geometry != nil && f.Geometry.Bound().Intersects(*asked.box) {
			numbers, kept = append(numbers, k+1), append(kept, f)
		}
	}
	matched := len(kept)
	from := min(asked.offset, matched)
	to := min(from+asked.limit, matched)
	l.Features = kept[from:to]
	features, err := featuresOf(l, numbers[from:to])
	if err != nil {
		return err
	}
	path := featuresPath + "/collections/" + id + "." + name + "/items"
	query := r.URL.Query()
	links := []Link{link(r, path, query, "self", geoJSON)}
	if to < matched {
		query.Set("offset", strconv.Itoa(to))
		links = append(links, link(r, path, query, "next", geoJSON))
	}
	w.Header().Set("Content-Type", geoJSON)
	return json.NewEncoder(w).Encode(anything{"type": "FeatureCollection", "features": features, "links": links, "numberMatched": matched, "numberReturned": to - from})
}

// item is one feature of a layer.
func item(s *shelf, w http.ResponseWriter, r *http.Request) error {
	id, j, name, err := s.layerAsked(r)
	if err != nil {
		return err
	}
	l, err := layerOf(j, name)
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(r.PathValue("feature"))
	if err != nil || n < 1 || n > len(l.Features) {
		return errNotThere
	}
	l.Features = l.Features[n-1 : n]
	features, err := featuresOf(l, []int{n})
	if err != nil {
		return err
	}
	path := featuresPath + "/collections/" + id + "." + name
	links, err := json.Marshal([]Link{link(r, path+"/items/"+strconv.Itoa(n), nil, "self", geoJSON), link(r, path, nil, "collection", "application/json")})
	if err != nil {
		return err
	}
	features[0]["links"] = links
	w.Header().Set("Content-Type", geoJSON)
	return json.NewEncoder(w).Encode(features[0])
}

// featuresOf are the features of a layer as GeoJSON has them, each with its number as id.
func featuresOf(l vector.Layer, numbers []int) ([]map[string]json.RawMessage, error) {
	var b bytes.Buffer
	if err := vector.WriteGeoJSON(&b, l); err != nil {
		return nil, err
	}
	var whole struct {
		Features []map[string]json.RawMessage `json:"features"`
	}
	if err := json.Unmarshal(b.Bytes(), &whole); err != nil {
		return nil, err
	}
	if len(whole.Features) != len(numbers) {
		return nil, fmt.Errorf("layer %s: %d features of %d came out", l.Name, len(whole.Features), len(numbers))
	}
	for k := range whole.Features {
		whole.Features[k]["id"] = json.RawMessage(strconv.Itoa(numbers[k]))
	}
	if whole.Features == nil {
		whole.Features = []map[string]json.RawMessage{}
	}
	return whole.Features, nil
}
