package isobus

import (
	"fmt"
	"slices"
	"strings"
)

// Part is the log as it tells of one element, by its name or number, and of what is below it: the values of other elements are unused then,
// and described are those alone that are below it or above. An element counts of which a work state is logged. Errors: there is none of that
// name, or more than one.
func (h Header) Part(devices []Device, name string) (Header, []Device, error) {
	states := map[string]bool{}
	for _, l := range h.list {
		if l.ddi == ddiWorkState || l.ddi >= ddiSections && l.ddi <= ddiSectionsLast {
			states[l.element] = true
		}
	}
	var all, found []string
	var of map[string]bool // the numbers of the elements of the part
	out := devices
	for i, v := range devices {
		for _, e := range v.Elements {
			under := v.under(e)
			if !slices.ContainsFunc(v.Elements, func(x Element) bool { return under[x.Object] && states[x.ID] }) {
				continue
			}
			shown := fmt.Sprintf("%s %q", e.ID, e.Designator)
			all = append(all, shown)
			if e.ID != name && !strings.EqualFold(strings.TrimSpace(e.Designator), name) {
				continue
			}
			found, of, out = append(found, shown), map[string]bool{}, slices.Clone(devices)
			above := v.above(e)
			out[i].Elements = nil
			for _, x := range v.Elements {
				if under[x.Object] {
					of[x.ID] = true
				}
				if under[x.Object] || above[x.Object] || !isPart(x) && x.kind() != detFunction {
					out[i].Elements = append(out[i].Elements, x)
				}
			}
		}
	}
	switch {
	case len(found) > 1:
		return h, devices, fmt.Errorf("%d components are called %q, %s: must be named by number", len(found), name, strings.Join(found, ", "))
	case len(found) == 0 && states[name]: // no description has it
		of = map[string]bool{name: true}
	case len(found) == 0:
		return h, devices, fmt.Errorf("no component %q has its work state in it: those that have are %s", name, strings.Join(all, ", "))
	}
	h.list = slices.Clone(h.list)
	for i, l := range h.list {
		if !of[l.element] && l.ddi != ddiSpeed {
			h.list[i].ddi = noDDI
		}
	}
	return h, out, nil
}

// noDDI is that of a value that is not used.
const noDDI = -1

// under are the objects of an element and of all below it.
func (v Device) under(e Element) map[string]bool {
	under := map[string]bool{e.Object: true}
	for n := 0; n < len(under); { // elements may stand in any order
		n = len(under)
		for _, x := range v.Elements {
			if under[x.Parent] {
				under[x.Object] = true
			}
		}
	}
	return under
}

// above are the objects of all elements above e.
func (v Device) above(e Element) map[string]bool {
	above := map[string]bool{e.Parent: true}
	for n := 0; n < len(above); {
		n = len(above)
		for _, x := range v.Elements {
			if above[x.Object] {
				above[x.Parent] = true
			}
		}
	}
	return above
}
