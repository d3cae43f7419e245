package isobus

import (
	"encoding/xml"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// Attributes of a position (PTN) in the order they stand in a record.
const (
	ptnLat = iota
	ptnLon
	ptnUp
	ptnStatus
	ptnPDOP
	ptnHDOP
	ptnSatellites
	ptnTime
	ptnDays
	ptnFields
)

// ptnSizes are the bytes of each; its letters are A to I.
var ptnSizes = [ptnFields]int{4, 4, 4, 1, 2, 2, 1, 4, 2}

// Header is TLGnnnnn.XML: what stands in every record.
type Header struct {
	at    [ptnFields]int    // byte in the record; -1: not in it
	fixed [ptnFields]string // constant for the whole log; "" if there is none
	size  int               // bytes of a record up to and with the number of values
	list  []dlv
	start []logged // constants of the value list
}

// ReadHeader reads TLGnnnnn.XML. An attribute that is the empty string stands
// in the record; one with a value is a constant that does not; one that is not
// there was not logged.
func ReadHeader(x *xml.Decoder) (h Header, err error) {
	var tim struct {
		XMLName xml.Name
		Attrs   []xml.Attr `xml:",any,attr"`
		PTN     []struct {
			Attrs []xml.Attr `xml:",any,attr"`
		} `xml:"PTN"`
		DLV []struct {
			DDI     string `xml:"A,attr"`
			Value   string `xml:"B,attr"`
			Element string `xml:"C,attr"`
		} `xml:"DLV"`
	}
	if err := x.Decode(&tim); err != nil {
		return h, fmt.Errorf("byte %d: %w", x.InputOffset(), err)
	}
	if tim.XMLName.Local != "TIM" {
		return h, fmt.Errorf("its root is <%s>, <TIM> is wanted", tim.XMLName.Local)
	}
	start, there := "", false
	for _, a := range tim.Attrs {
		if a.Name.Local == "A" {
			start, there = a.Value, true
		}
	}
	if !there || start != "" {
		return h, fmt.Errorf("TIM attribute A is %q (there: %t): the empty string is wanted, so that every record has its time", start, there)
	}
	if len(tim.PTN) != 1 {
		return h, fmt.Errorf("%d positions (PTN) in a record: 1 is wanted", len(tim.PTN))
	}
	var in [ptnFields]bool
	for _, a := range tim.PTN[0].Attrs {
		if len(a.Name.Local) != 1 || a.Name.Local[0]-'A' >= ptnFields {
			continue
		}
		if i := a.Name.Local[0] - 'A'; a.Value == "" {
			in[i] = true
		} else {
			h.fixed[i] = a.Value
		}
	}
	h.size = 6
	for i := range in {
		if h.at[i] = -1; in[i] {
			h.at[i] = h.size
			h.size += ptnSizes[i]
		}
	}
	h.size++
	if !in[ptnLat] || !in[ptnLon] {
		return h, errors.New("no latitude and longitude in a record: PTN attributes A and B must be there and empty")
	}
	if len(tim.DLV) > 255 {
		return h, fmt.Errorf("%d values (DLV): the limit is 255", len(tim.DLV))
	}
	for i, l := range tim.DLV {
		ddi, ok := ddiOf(l.DDI)
		if !ok {
			return h, fmt.Errorf("value %d has the DDI %.20q: four hexadecimal digits are wanted", i, l.DDI)
		}
		h.list = append(h.list, dlv{ddi, l.Element})
		var v logged
		if l.Value != "" {
			n, err := strconv.ParseInt(strings.TrimSpace(l.Value), 10, 32)
			if err != nil {
				return h, fmt.Errorf("value %d is fixed at %.20q: a number of 32 bits is wanted", i, l.Value)
			}
			v = logged{int32(n), true}
		}
		h.start = append(h.start, v)
	}
	return h, nil
}
