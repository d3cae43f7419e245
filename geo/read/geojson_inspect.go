package read

import "fmt"

// inspection is what is looked for in a feature before it is decoded: the
// decoder reads the position [] as 0, 0 and null as 0, and drops a crs.
type inspection struct {
	*pull
	geometry bool   // it has one that is not null
	what     string // the first thing wrong
}

// inspect looks through one feature or geometry. top: it is the whole file, and
// its crs has been read.
func inspect(raw []byte, top, bare bool) (geometry bool, what string) {
	in := inspection{pull: pullBytes(raw)}
	in.object(top, bare, 0)
	if in.err != nil {
		return false, in.err.Error()
	}
	return in.geometry, in.what
}

func (in *inspection) wrong(what string) {
	if in.what == "" {
		in.what = what
	}
}

func (in *inspection) object(top, bare bool, depth int) {
	if depth > maxDepth {
		in.fail("collections nested deeper than %d", maxDepth)
		return
	}
	if in.peek() != '{' {
		in.skip()
		return
	}
	in.pos++
	for first := true; ; first = false {
		key, ok := in.key(first)
		if !ok {
			break
		}
		switch string(key) {
		case "crs":
			if !top {
				in.wrong("a crs inside a feature or geometry: only one for the whole file is read")
			}
			in.skip()
		case "geometry":
			if c := in.peek(); c == '{' {
				in.geometry = true
			} else if c != 'n' {
				in.wrong("a geometry that is no object")
			}
			in.object(false, true, depth+1)
		case "geometries":
			if in.peek() != '[' {
				in.wrong("geometries that are no list")
				in.skip()
				break
			}
			in.pos++
			for first := true; in.item(first); first = false {
				in.object(false, true, depth+1)
			}
		case "coordinates":
			numbers, empty := 0, 0
			in.positions(1, &numbers, &empty)
			if numbers > 0 && empty == numbers {
				in.wrong("a position of 0 numbers: longitude and latitude are wanted")
			}
		default:
			in.skip()
		}
	}
	in.geometry = in.geometry || bare
}

// positions walks nested lists of coordinates. numbers is how deep the numbers
// lie, empty the deepest list without anything in it.
func (in *inspection) positions(depth int, numbers, empty *int) {
	if depth > maxDepth {
		in.fail("lists nested deeper than %d", maxDepth)
		return
	}
	if in.peek() != '[' {
		in.wrong("coordinates that are no list")
		in.skip()
		return
	}
	in.pos++
	n, lists := 0, 0
	for first := true; in.item(first); first = false {
		switch c := in.peek(); {
		case c == '[':
			lists++
			in.positions(depth+1, numbers, empty)
		case c == '-' || c-'0' < 10:
			in.number()
			n++
		default:
			in.wrong(fmt.Sprintf("%q among coordinates", c))
			in.skip()
		}
		if in.err != nil {
			return
		}
	}
	switch {
	case n > 0 && lists > 0, n == 1:
		in.wrong(fmt.Sprintf("a position of %d numbers: longitude and latitude are wanted", n))
	case n > 0 && *numbers != 0 && *numbers != depth:
		in.wrong("positions in lists of different depth")
	case n > 0:
		*numbers = depth
	case lists == 0:
		*empty = max(*empty, depth)
	}
}
