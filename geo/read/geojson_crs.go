package read

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"balk/geo/crs"
)

// geojsonCRS is the "crs" member of the GeoJSON of 2008, which RFC 7946 took
// out again. Files with it are about; what it says changes every position.
type geojsonCRS struct {
	present bool
	name    string
}

// readCRS reads the value of a "crs" member. It stands at the top of a file or
// is refused: one system per file.
func (s *trackScan) readCRS(top bool) {
	if !top {
		s.fail("a crs inside a feature or geometry: only one for the whole file is read")
		return
	}
	s.crs = s.pull.crs()
}

// crs reads {"type": "name", "properties": {"name": "..."}}, or null.
func (p *pull) crs() geojsonCRS {
	c := geojsonCRS{present: true}
	if p.peek() != '{' {
		p.skip()
		return c
	}
	for key := range p.members() {
		if string(key) != "properties" || p.peek() != '{' {
			p.skip()
			continue
		}
		for key := range p.members() {
			if string(key) == "name" && p.peek() == '"' {
				c.name = strings.ToValidUTF8(string(p.text()), "\uFFFD")
			} else {
				p.skip()
			}
		}
	}
	return c
}

// projection is the system the member names: nil for longitude and latitude on
// WGS84. what is a finding, "" for none.
func (c geojsonCRS) projection() (p crs.Projection, what string, err error) {
	if !c.present {
		return nil, "", nil
	}
	if c.name == "" {
		return nil, "", errors.New("it names no system: one like \"urn:ogc:def:crs:OGC:1.3:CRS84\" or \"EPSG:25832\" is wanted")
	}
	up := strings.ToUpper(c.name)
	if up == "CRS84" || strings.HasPrefix(up, "URN:OGC:DEF:CRS:OGC:") && strings.HasSuffix(up, ":CRS84") || up == "OGC:CRS84" || strings.HasSuffix(up, "/OGC/1.3/CRS84") {
		return nil, "", nil
	}
	if strings.HasSuffix(up, "CRS84H") {
		return nil, "", nil
	}
	code, ok := epsgCode(up)
	if !ok {
		return nil, "", fmt.Errorf("%q is not read: CRS84, \"urn:ogc:def:crs:EPSG::code\" or \"EPSG:code\" is", c.name)
	}
	if code == 4326 {
		return nil, fmt.Sprintf("crs %q: positions are taken as longitude first, as GeoJSON has them", c.name), nil
	}
	p, err = crs.FromEPSG(code)
	if err != nil {
		return nil, "", fmt.Errorf("%q: %w", c.name, err)
	}
	return p, crs.Note(p), nil
}

// epsgCode takes the number out of EPSG:25832, urn:ogc:def:crs:EPSG::25832,
// urn:ogc:def:crs:EPSG:9.9:25832 or .../def/crs/EPSG/0/25832, in upper case.
func epsgCode(name string) (int, bool) {
	if !strings.HasPrefix(name, "EPSG:") && !strings.HasPrefix(name, "URN:OGC:DEF:CRS:EPSG:") && !strings.Contains(name, "/DEF/CRS/EPSG/") {
		return 0, false
	}
	code, err := strconv.Atoi(name[strings.LastIndexAny(name, ":/")+1:])
	return code, err == nil
}
