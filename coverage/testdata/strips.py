"""Missed ground by GEOS: reads cases as JSON, prints what it finds of each; see ../geos_test.go."""
import json
import sys

from shapely.geos import geos_version
from shapely.geometry import Point, Polygon
from shapely.ops import unary_union
from shapely.prepared import prep
from shapely.validation import make_valid


def place(p):
    return (p["X"], p["Y"])


def polygon(rings):
    outer, *holes = [[place(p) for p in ring] for ring in rings]
    return make_valid(Polygon(outer, holes))


def parts(shape):
    return [p for p in getattr(shape, "geoms", [shape]) if p.area > 0]


def meet(a, b):
    return a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]


def missing(field, quads):
    """Field less quads. Uniting thousands of quads at once, GEOS 3.11.1 now and then loses some of them, which it does not
    lose one by one: those that lie on what is left are taken away by themselves."""
    left = field.difference(unary_union(quads))
    cores = [(quad, quad.buffer(-1e-4)) for quad in quads]  # those that only touch it are not on it
    cores = [(quad, core, core.bounds) for quad, core in cores if not core.is_empty]
    for piece in parts(left):
        within, around = prep(piece), piece.bounds
        for quad, core, bounds in cores:
            if meet(bounds, around) and within.intersects(core):
                left = left.difference(quad)
    return left


def judge(case):
    missed = missing(unary_union([polygon(p) for p in case["field"]]),
                     [q for q in (polygon(q) for q in case["quads"]) if not q.is_empty])
    pieces = parts(missed)
    shapes = [polygon(s["shape"]) for s in case["strips"]]
    holds = [[k for k, p in enumerate(pieces) if p.contains(Point(place(s["at"])))] for s in case["strips"]]
    left = missed.difference(unary_union(shapes).buffer(case["drawn"]))
    circle = case["circle"] / 2
    return {
        "missed": missed.area,
        "pieces": [p.area for p in pieces],
        "wide": [not p.buffer(-circle).is_empty for p in pieces],
        "in": [h[0] if h else -1 for h in holds],
        "areas": [s.area for s in shapes],
        "beyond": [s.difference(missed).area for s in shapes],
        "together": unary_union(shapes).area,
        "left": sum(1 for p in parts(left) if not p.buffer(-circle).is_empty),
    }


print(json.dumps({"geos": ".".join(map(str, geos_version)), "cases": [judge(c) for c in json.load(sys.stdin)]}))
