//go:build geos

package geos

/*
#cgo LDFLAGS: -lgeos_c
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <geos_c.h>

typedef struct { char last[512]; } faults;

static void note(const char *message, void *data) {
	faults *f = data;
	strncpy(f->last, message, sizeof f->last - 1);
}

static GEOSContextHandle_t start(faults *f) {
	GEOSContextHandle_t h = GEOS_init_r();
	GEOSContext_setErrorMessageHandler_r(h, note, f);
	return h;
}

// polygon takes n points, the last of which repeats the first. One that is not
// valid is made so.
static GEOSGeometry *polygon(GEOSContextHandle_t h, const double *xy, unsigned n) {
	GEOSCoordSequence *s = GEOSCoordSeq_copyFromBuffer_r(h, xy, n, 0, 0);
	if (!s) return NULL;
	GEOSGeometry *ring = GEOSGeom_createLinearRing_r(h, s);
	if (!ring) return NULL;
	GEOSGeometry *p = GEOSGeom_createPolygon_r(h, ring, NULL, 0);
	if (!p) return NULL;
	if (GEOSisValid_r(h, p) == 1) return p;
	GEOSGeometry *valid = GEOSMakeValid_r(h, p);
	GEOSGeom_destroy_r(h, p);
	return valid;
}

typedef struct {
	GEOSContextHandle_t h;
	GEOSGeometry **passes;
	const GEOSPreparedGeometry *prepared;
	size_t self;
	GEOSGeometry **laps;
	size_t n, room;
	int failed;
} lapping;

// lap keeps what a later pass has in common with the present one.
static void lap(void *item, void *data) {
	lapping *l = data;
	size_t other = (size_t)item;
	if (other <= l->self || l->failed) return;
	char meets = GEOSPreparedIntersects_r(l->h, l->prepared, l->passes[other]);
	if (meets == 2) { l->failed = 1; return; }
	if (!meets) return;
	GEOSGeometry *g = GEOSIntersection_r(l->h, l->passes[l->self], l->passes[other]);
	if (!g) { l->failed = 1; return; }
	if (l->n == l->room) {
		size_t room = l->room ? 2*l->room : 1024;
		GEOSGeometry **more = realloc(l->laps, room*sizeof *more);
		if (!more) { GEOSGeom_destroy_r(l->h, g); l->failed = 1; return; }
		l->laps = more;
		l->room = room;
	}
	l->laps[l->n++] = g;
}

// united takes over the parts.
static GEOSGeometry *united(GEOSContextHandle_t h, GEOSGeometry **parts, unsigned n) {
	GEOSGeometry *all = GEOSGeom_createCollection_r(h, GEOS_GEOMETRYCOLLECTION, parts, n);
	if (!all) return NULL;
	GEOSGeometry *u = GEOSUnaryUnion_r(h, all);
	GEOSGeom_destroy_r(h, all);
	return u;
}

// balance: ring 0 is the field, the others are passes. Returns 0 when done.
static int balance(GEOSContextHandle_t h, const double *xy, const unsigned *points, size_t rings, double *missed, double *twice, double *worked) {
	int rc = 1;
	size_t n = rings - 1;
	GEOSGeometry *field = NULL, *all = NULL, *left = NULL, *both = NULL, *inside = NULL;
	GEOSGeometry **passes = calloc(n + 1, sizeof *passes), **copies = calloc(n + 1, sizeof *copies);
	GEOSSTRtree *tree = GEOSSTRtree_create_r(h, 10);
	lapping l = {h, passes, NULL, 0, NULL, 0, 0, 0};
	if (!passes || !copies || !tree) goto done;
	if (!(field = polygon(h, xy, points[0]))) goto done;
	xy += 2*points[0];
	for (size_t i = 0; i < n; i++) {
		if (!(passes[i] = polygon(h, xy, points[i+1]))) goto done;
		xy += 2*points[i+1];
		GEOSSTRtree_insert_r(h, tree, passes[i], (void *)i);
	}
	for (size_t i = 0; i < n; i++) {
		l.self = i;
		if (!(l.prepared = GEOSPrepare_r(h, passes[i]))) goto done;
		GEOSSTRtree_query_r(h, tree, passes[i], lap, &l);
		GEOSPreparedGeom_destroy_r(h, l.prepared);
		if (l.failed) goto done;
	}
	for (size_t i = 0; i < n; i++) if (!(copies[i] = GEOSGeom_clone_r(h, passes[i]))) goto done;
	if (!(all = united(h, copies, n))) goto done;
	memset(copies, 0, n*sizeof *copies);
	both = united(h, l.laps, l.n);
	l.n = 0;
	if (!both) goto done;
	if (!(left = GEOSDifference_r(h, field, all))) goto done;
	if (!(inside = GEOSIntersection_r(h, field, both))) goto done;
	if (GEOSArea_r(h, left, missed) && GEOSArea_r(h, inside, twice) && GEOSArea_r(h, all, worked)) rc = 0;
done:
	for (size_t i = 0; i < l.n; i++) GEOSGeom_destroy_r(h, l.laps[i]);
	free(l.laps);
	if (tree) GEOSSTRtree_destroy_r(h, tree);
	for (size_t i = 0; i < n; i++) {
		if (passes && passes[i]) GEOSGeom_destroy_r(h, passes[i]);
	}
	free(passes);
	free(copies);
	if (field) GEOSGeom_destroy_r(h, field);
	if (all) GEOSGeom_destroy_r(h, all);
	if (both) GEOSGeom_destroy_r(h, both);
	if (left) GEOSGeom_destroy_r(h, left);
	if (inside) GEOSGeom_destroy_r(h, inside);
	return rc;
}

// inset: the area of a ring pulled in, its arcs of so many pieces to a quarter. Returns 0 when done.
static int inset(GEOSContextHandle_t h, const double *xy, unsigned points, double depth, int pieces, double *area) {
	GEOSGeometry *ring = polygon(h, xy, points);
	if (!ring) return 1;
	GEOSGeometry *in = GEOSBuffer_r(h, ring, -depth, pieces);
	GEOSGeom_destroy_r(h, ring);
	if (!in) return 1;
	int rc = GEOSArea_r(h, in, area) ? 0 : 1;
	GEOSGeom_destroy_r(h, in);
	return rc;
}
*/
import "C"

import (
	"errors"
	"fmt"
	"unsafe"
)

// Areas of a balance in m²: ground of the field no pass covers, ground of the
// field two or more passes cover, ground any pass covers.
type Areas struct{ Missed, Double, Worked float64 }

// Version of the library in use.
func Version() string { return C.GoString(C.GEOSversion()) }

// Balance asks GEOS what a field and passes make. Each ring is a flat list
// x0, y0, x1, y1, … without the repeated last point. The way is the fastest that
// its documentation offers: outlines as polygons, cascaded union, laps of
// neighbours found with its tree and prepared polygons.
func Balance(field []float64, passes [][]float64) (Areas, error) {
	var missed, double, worked C.double
	err := asked(append([][]float64{field}, passes...), func(h C.GEOSContextHandle_t, xy []C.double, points []C.uint) C.int {
		return C.balance(h, &xy[0], &points[0], C.size_t(len(points)), &missed, &double, &worked)
	})
	if err != nil {
		return Areas{}, err
	}
	return Areas{float64(missed), float64(double), float64(worked)}, nil
}

// Inset is the area in m² that GEOS gives a ring pulled in by a buffer below nought, whose arcs have so many pieces to a quarter.
func Inset(ring []float64, depth float64, pieces int) (float64, error) {
	var area C.double
	err := asked([][]float64{ring}, func(h C.GEOSContextHandle_t, xy []C.double, points []C.uint) C.int {
		return C.inset(h, &xy[0], points[0], C.double(depth), C.int(pieces), &area)
	})
	return float64(area), err
}

// asked lays rings out for a question, which returns 0 when it is answered.
func asked(rings [][]float64, question func(h C.GEOSContextHandle_t, xy []C.double, points []C.uint) C.int) error {
	var xy []C.double
	var points []C.uint
	for _, ring := range rings {
		if len(ring) < 6 || len(ring)%2 != 0 {
			return fmt.Errorf("ring of %d numbers: must be 6 or more, and even", len(ring))
		}
		for _, v := range ring {
			xy = append(xy, C.double(v))
		}
		xy = append(xy, C.double(ring[0]), C.double(ring[1]))
		points = append(points, C.uint(len(ring)/2+1))
	}
	faults := (*C.faults)(C.calloc(1, C.sizeof_faults))
	defer C.free(unsafe.Pointer(faults))
	h := C.start(faults)
	defer C.GEOS_finish_r(h)
	if question(h, xy, points) != 0 {
		return errors.New("geos: " + C.GoString(&faults.last[0]))
	}
	return nil
}
