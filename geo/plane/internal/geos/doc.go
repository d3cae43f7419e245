// Package geos is an opt-in second opinion for the engine: the same question put
// to GEOS through its C API.
//
// In: rings as flat x, y lists in metres. Out: areas in m². Not part of any
// program: it is built only with the tag geos, which needs cgo and Debian's
// libgeos-dev:
//
//	go test -tags geos -run GEOS -v ./geo/plane
//
// Without the tag the package is empty.
package geos
