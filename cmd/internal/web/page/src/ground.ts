// The ground of an operation as numbers to draw, as the server packs them.
export type XY = [number, number]

export interface Ground {
  layers: Map<string, XY[][][]> // shapes of rings
  column: Record<string, Float32Array>
  places: number
  every: number
  begin: number
  passes: [number, number][]
  half: number
  degrees: [number, number][]
}

interface Head {
  layers: { name: string; shapes: number[][] }[]
  degrees: [number, number][]; half: number; places: number; every: number; columns: string[]; begin: number; passes: [number, number][]
}

// rounded are the layers of ground, whose rings end where they begin; the others are of lines.
const rounded = new Set(['field', 'double', 'triple', 'unknown', 'outside', 'headland', 'slivers', 'strips', 'ribbons', 'bars'])

export function unpack(buffer: ArrayBuffer): Ground {
  const length = new DataView(buffer).getUint32(0, true)
  const head: Head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)))
  const all = new Float32Array(buffer, 4 + length)
  let at = 0
  const layers = new Map<string, XY[][][]>()
  for (const l of head.layers) {
    layers.set(l.name, l.shapes.map(rings => rings.map(points => {
      const ring: XY[] = new Array(points)
      for (let k = 0; k < points; k++, at += 2) ring[k] = [all[at], all[at + 1]]
      if (rounded.has(l.name) && points > 2) ring.push(ring[0])
      return ring
    })))
  }
  const column: Record<string, Float32Array> = {}
  for (const name of head.columns) {
    column[name] = all.subarray(at, at + head.places)
    at += head.places
  }
  return { layers, column, places: head.places, every: head.every, begin: head.begin, passes: head.passes, half: head.half, degrees: head.degrees }
}

// degrees takes a place on the plane to longitude and latitude: the square through nine known places, good to micrometres on a field.
export function degrees(g: Ground, [x, y]: XY): [number, number] {
  const weights = (v: number) => [v * (v - 1) / 2, 1 - v * v, v * (v + 1) / 2]
  const a = weights(x / g.half), b = weights(y / g.half)
  let lon = 0, lat = 0
  for (let n = 0; n < 3; n++) for (let e = 0; e < 3; e++) {
    lon += b[n] * a[e] * g.degrees[3 * n + e][0]
    lat += b[n] * a[e] * g.degrees[3 * n + e][1]
  }
  return [lon, lat]
}

// plane is the way back, by three steps of Newton from the middle.
export function plane(g: Ground, lon: number, lat: number): XY {
  let x = 0, y = 0
  for (let k = 0; k < 4; k++) {
    const [a, b] = degrees(g, [x, y])
    const [ax, bx] = degrees(g, [x + 1, y]), [ay, by] = degrees(g, [x, y + 1])
    const [e, f, h, i] = [ax - a, ay - a, bx - b, by - b], det = e * i - f * h
    x += ((lon - a) * i - (lat - b) * f) / det
    y += ((lat - b) * e - (lon - a) * h) / det
  }
  return [x, y]
}

// placeAt is the number of the place of the set at a time.
export function placeAt(g: Ground, seconds: number): number {
  const t = g.column.seconds
  let a = 0, b = g.places - 1
  while (a < b) {
    const m = (a + b + 1) >> 1
    if (t[m] <= seconds) a = m; else b = m - 1
  }
  return a
}
