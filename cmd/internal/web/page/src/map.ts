// The field as a map in metres: ground, strips in their true width with a marker where that is too thin to see, passes, and the set.
import OlMap from 'ol/Map'
import View from 'ol/View'
import Feature from 'ol/Feature'
import Overlay from 'ol/Overlay'
import Projection from 'ol/proj/Projection'
import ScaleLine from 'ol/control/ScaleLine'
import VectorImageLayer from 'ol/layer/VectorImage'
import VectorLayer from 'ol/layer/Vector'
import VectorSource from 'ol/source/Vector'
import Draw from 'ol/interaction/Draw'
import Modify from 'ol/interaction/Modify'
import { defaults as interactions } from 'ol/interaction/defaults'
import Circle from 'ol/geom/Circle'
import LineString from 'ol/geom/LineString'
import MultiLineString from 'ol/geom/MultiLineString'
import Point from 'ol/geom/Point'
import Polygon from 'ol/geom/Polygon'
import CircleStyle from 'ol/style/Circle'
import Fill from 'ol/style/Fill'
import RegularShape from 'ol/style/RegularShape'
import Stroke from 'ol/style/Stroke'
import Style from 'ol/style/Style'
import Text from 'ol/style/Text'
import type Geometry from 'ol/geom/Geometry'
import { degrees, type Ground, type XY } from './ground'
import { placed } from './names'
import type { Settings, Strip } from './api'
import { area, number } from './words'

const projection = new Projection({ code: 'FIELD', units: 'm', metersPerUnit: 1 })
const straw = '#E3CF9B', slate = '#5B7A99', ink = '#27364A', magenta = '#C2247F', orange = '#E08A1E', earth = '#7A5C1E', green = '#3F6B4F', grey = '#6F6F6F'
const thin = 1.5 // px: a strip that is narrower gets a marker
const dark = window.matchMedia('(prefers-color-scheme: dark)')
const line = () => dark.matches ? '#F1ECDF' : '#1E242B'
const paper = () => dark.matches ? '#15191E' : '#FBF8F0'
const font = (px: number, weight = 600) => `${weight} ${px}px "DejaVu Sans", "Segoe UI", "Helvetica Neue", Arial, sans-serif`

// newView is what the halves of the map share: they are moved together.
export function newView(half: number): View {
  return new View({ projection, center: [0, 0], extent: [-3 * half - 50, -3 * half - 50, 3 * half + 50, 3 * half + 50], showFullExtent: true, constrainRotation: false, minResolution: 0.005, maxResolution: half / 50, constrainResolution: false })
}

const hatches = new Map<string, CanvasPattern>()
function hatched(color: string): CanvasPattern {
  let made = hatches.get(color)
  if (!made) hatches.set(color, made = hatch(color))
  return made
}

function hatch(color: string): CanvasPattern {
  const c = document.createElement('canvas')
  c.width = c.height = 8
  const g = c.getContext('2d')!
  g.strokeStyle = color
  g.lineWidth = 1.6
  g.beginPath()
  for (const k of [-8, 0, 8]) { g.moveTo(k, 8); g.lineTo(k + 8, 0) }
  g.stroke()
  return g.createPattern(c, 'repeat')!
}

export type Passes = 'plain' | 'order' | 'speed' | 'spacing' | 'drawbar' | 'surety' | 'across'

// styles are kept: what looks alike is drawn at once.
const styles = new Map<string, Style>()
function style(key: string, make: () => Style): Style {
  let made = styles.get(key)
  if (!made) styles.set(key, made = make())
  return made
}

// mostNames is how many numbers stand on the map at once: more cover what they name. Strips that have none here have one closer by.
const mostNames = 150

// suretyColours are those of work that is logged, told from the driving, doubtful, and not known.
const suretyColours = ['#27364A', '#94905F', '#E08A1E', '#6F6F6F']

// ramp goes from the first to the last in order, or from slow to fast: told apart in grey too.
const ramp = ['#B7A065', '#94905F', '#6C7C83', '#465C78', '#27364A']

export class FieldMap {
  readonly map: OlMap
  private strips = new Map<number, Feature>()
  private still = new VectorSource() // ground and passes
  private missed = new VectorSource() // strips, their marks, and the lines over them
  private passes: Feature[] = []
  private names = new VectorSource()
  private naming = 0
  private set = new VectorSource()
  private pointed: Overlay
  private measures = new VectorSource()
  private drawing?: Draw | Modify
  chosen = new Set<number>()
  done = new Set<number>() // hatched
  private places = new VectorSource()
  private self = new VectorSource()
  selected = 0
  onStrip: (n: number, zoom: boolean) => void = () => {}
  onPlace: (at: XY | null) => void = () => {}
  onTime: (seconds: number) => void = () => {}

  constructor(private target: HTMLElement, readonly ground: Ground, private list: Strip[], private settings: Settings, view: View, passes: Passes) {
    const hint = document.createElement('div')
    hint.className = 'pointed'
    this.pointed = new Overlay({ element: hint, offset: [12, 12], stopEvent: false })
    this.areas(this.still, 'field', new Style({ fill: new Fill({ color: straw }) }))
    this.areas(this.still, 'double', new Style({ fill: new Fill({ color: slate }), zIndex: 1 }))
    this.areas(this.still, 'triple', new Style({ fill: new Fill({ color: ink }), zIndex: 2 }))
    this.areas(this.still, 'unknown', [new Style({ fill: new Fill({ color: '#E9E6DF' }), zIndex: 3 }), new Style({ fill: new Fill({ color: hatched(grey) }), stroke: new Stroke({ color: grey, width: 1 }), zIndex: 3 })])
    this.areas(this.still, 'outside', new Style({ fill: new Fill({ color: hatched(orange) }), stroke: new Stroke({ color: orange, width: 1 }), zIndex: 4 }))
    this.areas(this.still, 'bars', new Style({ fill: new Fill({ color: hatched(green) }), stroke: new Stroke({ color: green, width: 1 }), zIndex: 4 }))
    this.areas(this.still, 'ribbons', new Style({ fill: new Fill({ color: earth }), zIndex: 4 }))
    this.areas(this.still, 'slivers', new Style({ fill: new Fill({ color: magenta + '66' }), zIndex: 5 }))
    const shapes = ground.layers.get('strips') ?? []
    this.missed.addFeatures(list.flatMap((s, k) => {
      const f = new Feature<Geometry>(new Polygon(shapes[k])), mark = new Feature<Geometry>(new Point(s.xy))
      f.set('strip', s.number)
      f.setStyle((_, r) => this.stripStyle(s.number, r))
      mark.setStyle((_, r) => this.markStyle(s.number, r))
      this.strips.set(s.number, f)
      return [f, mark]
    }))
    this.areas(this.missed, 'headland', new Style({ stroke: new Stroke({ color: '#333333', width: 1, lineDash: [6, 5] }), zIndex: 3 }))
    this.areas(this.missed, 'field', new Style({ stroke: new Stroke({ color: line(), width: 1.8 }), zIndex: 4 }))
    this.tight()
    // What does not change from one moment to the next is drawn once, a little more of it than is seen, and moved as a picture by a hand or with the time.
    const kept = { imageRatio: 1.5 }
    this.map = new OlMap({
      target, view, pixelRatio: Math.min(window.devicePixelRatio, 2),
      interactions: interactions({ altShiftDragRotate: false, pinchRotate: false }),
      controls: [new ScaleLine({ units: 'metric', minWidth: 70 })],
      overlays: [this.pointed],
      layers: [
        new VectorImageLayer({ source: this.still, ...kept }),
        new VectorImageLayer({ source: this.missed, ...kept }),
        new VectorLayer({ source: this.names }),
        new VectorLayer({ source: this.places }),
        new VectorLayer({ source: this.set }),
        new VectorLayer({ source: this.self }),
        new VectorLayer({ source: this.measures, style: new Style({ stroke: new Stroke({ color: line(), width: 2, lineDash: [2, 4] }), fill: new Fill({ color: 'rgba(39,54,74,0.12)' }) }) }),
      ],
    })
    target.style.background = paper()
    this.colour(passes)
    this.map.on('pointermove', e => {
      if (e.dragging) return
      this.point(e.coordinate as XY, this.stripAt(e.coordinate as XY))
    })
    this.map.on('moveend', () => this.name())
    target.addEventListener('pointerleave', () => this.point(null, 0))
    this.map.on('singleclick', e => {
      if (this.drawing) return
      const at = e.coordinate as XY, strip = this.stripAt(at)
      this.onStrip(strip, false)
      if (!strip) this.pick(at)
    })
  }

  // dispose lets go of what the browser holds for the map.
  dispose(): void {
    cancelAnimationFrame(this.naming)
    this.map.setTarget(undefined)
    this.map.dispose()
  }

  private areas(to: VectorSource, name: string, style: Style | Style[]): void {
    to.addFeatures((this.ground.layers.get(name) ?? []).map(rings => {
      const f = new Feature<Geometry>(new Polygon(rings))
      f.setStyle(style)
      return f
    }))
  }

  // tight are the turns that were too tight: a ring with a cross.
  private tight(): void {
    const ring = new CircleStyle({ radius: 6, stroke: new Stroke({ color: line(), width: 1.6 }) })
    const cross = [new Style({ image: ring, zIndex: 5 }), new Style({ text: new Text({ text: '×', font: font(13), fill: new Fill({ color: line() }) }), zIndex: 5 })]
    for (const [l] of this.ground.layers.get('tight') ?? []) {
      const f = new Feature<Geometry>(new Point(l[l.length >> 1]))
      f.setStyle(cross)
      this.missed.addFeature(f)
    }
  }

  private full(n: number): boolean { return this.chosen.size === 0 || this.chosen.has(n) }

  private stripStyle(n: number, resolution: number): Style | undefined {
    const full = this.full(n), done = this.done.has(n), selected = n === this.selected
    const wide = this.list[n - 1].widest / resolution > thin
    if (!wide && !selected && this.list[n - 1].length / resolution < thin) return undefined // its mark is all there is to see
    return style(`strip ${full} ${done} ${selected} ${wide} ${selected && dark.matches}`, () => new Style({
      fill: new Fill({ color: done ? hatched(magenta) : full ? magenta : magenta + '73' }),
      stroke: selected ? new Stroke({ color: line(), width: 3 }) : wide ? new Stroke({ color: full ? '#7A0F4C' : '#C2247F99', width: 0.8 }) : undefined,
      zIndex: selected ? 2 : full ? 1 : 0,
    }))
  }

  private markStyle(n: number, resolution: number): Style | undefined {
    const full = this.full(n), selected = n === this.selected
    if (!selected && this.list[n - 1].widest / resolution > thin) return undefined
    return style(`mark ${full} ${selected}`, () => new Style({
      image: new CircleStyle({ radius: selected ? 6 : 3.5, fill: new Fill({ color: full ? magenta : '#D98BB8' }), stroke: new Stroke({ color: '#ffffff', width: 1.2 }) }),
      zIndex: selected ? 8 : full ? 7 : 6,
    }))
  }

  // name puts numbers beside the strips that are seen: of the one selected, then of those chosen, the largest first.
  private name(): void {
    cancelAnimationFrame(this.naming)
    this.naming = requestAnimationFrame(() => {
      const size = this.map.getSize(), v = this.map.getView()
      this.names.clear()
      if (!size || !v.isDef()) return
      const seen = v.calculateExtent(size)
      const rank = (s: Strip) => s.number === this.selected ? 0 : this.full(s.number) ? 1 : 2
      const all = this.list.filter(s => s.xy[0] >= seen[0] && s.xy[0] <= seen[2] && s.xy[1] >= seen[1] && s.xy[1] <= seen[3])
        .sort((a, b) => rank(a) - rank(b) || a.number - b.number).slice(0, mostNames)
      const px = (s: Strip) => s.number === this.selected ? 15 : 12
      // From metres to pixels and back by the view as it is now: the map's own answer is that of the picture drawn last, of another size perhaps.
      const [cx, cy] = v.getCenter()!, metre = v.getResolution()!, cos = Math.cos(v.getRotation()), sin = Math.sin(v.getRotation())
      const pixel = ([x, y]: number[]): XY => { const [e, n] = [(x - cx) / metre, (y - cy) / metre]; return [size[0] / 2 + cos * e + sin * n, size[1] / 2 + sin * e - cos * n] }
      const coordinate = ([x, y]: number[]): XY => { const [a, b] = [x - size[0] / 2, y - size[1] / 2]; return [cx + metre * (cos * a + sin * b), cy + metre * (sin * a - cos * b)] }
      const ready = all.map(s => ({ s, at: pixel(s.xy) }))
      const found = placed(ready.map(({ s, at }) => ({ words: String(s.number), at, wide: String(s.number).length * px(s) * 0.72 })), size as XY)
      this.target.dataset.names = found.map(({ of, at, led }) => [ready[of].s.number, ...at.map(Math.round), led ? 1 : 0].join(' ')).join(';') // a canvas cannot be asked what is on it
      this.names.addFeatures(found.flatMap(({ of, at, led }) => {
        const { s } = ready[of], to = coordinate(at)
        const words = new Feature<Geometry>(new Point(to))
        words.setStyle(style(`name ${s.number} ${px(s)}`, () => new Style({ text: new Text({ text: String(s.number), font: font(px(s)), fill: new Fill({ color: '#7A0F4C' }), stroke: new Stroke({ color: '#ffffff', width: 3 }) }), zIndex: 1 })))
        if (!led) return [words]
        const leader = new Feature<Geometry>(new LineString([s.xy, to]))
        leader.setStyle(style('leader', () => new Style({ stroke: new Stroke({ color: '#7A0F4C', width: 1 }), zIndex: 0 })))
        return [leader, words]
      }))
    })
  }

  // colour draws the passes: all alike, in the order driven, by how sure it is that they worked, or by a value.
  colour(how: Passes): void {
    this.still.removeFeatures(this.passes)
    this.passes = []
    const lines = (this.ground.layers.get('passes') ?? []).map(p => p[0])
    const add = (g: LineString | MultiLineString, color: string, width: number, lineDash?: number[]) => {
      const f = new Feature<Geometry>(g)
      f.setStyle(new Style({ stroke: new Stroke({ color, width, lineDash }), zIndex: 6 }))
      this.passes.push(f)
    }
    if (how === 'plain') add(new MultiLineString(lines), '#A08A4ECC', 1)
    if (how === 'order') lines.forEach((l, k) => add(new LineString(l), ramp[Math.min(ramp.length - 1, Math.floor(ramp.length * k / Math.max(1, lines.length)))], 2))
    const value = this.values(how)
    if (how === 'surety') {
      const of = suretyColours.map((_, k) => this.driven(at => this.ground.column.surety[at] === k))
      of.forEach((l, k) => { if (l.length) add(new MultiLineString(l), suretyColours[k], 2.4, k > 1 ? [7, 4] : undefined) })
    }
    if (value) {
      const limits = this.limits(how)
      const class_ = (k: number) => { const of = limits.findIndex(l => value[k] <= l); return of < 0 ? ramp.length - 1 : of }
      ramp.forEach((colour, n) => { const l = this.driven(k => value[k] >= 0 && class_(k) === n); if (l.length) add(new MultiLineString(l), colour, 2.4) })
    }
    this.still.addFeatures(this.passes)
  }

  // driven are the ways of the bar in work up to the places of which something holds.
  private driven(holds: (k: number) => boolean): XY[][] {
    const c = this.ground.column, out: XY[][] = []
    let open = false
    for (let k = 1; k < this.ground.places; k++) {
      const on = c.pass[k] > 0 && c.pass[k] === c.pass[k - 1] && holds(k)
      if (on && !open) out.push([[c.barX[k - 1], c.barY[k - 1]]])
      if (on) out[out.length - 1].push([c.barX[k], c.barY[k]])
      open = on
    }
    return out
  }

  // values are what passes are coloured by, place by place: m/s, degrees between tractor and drawbar, metres to the neighbour, percent of slope across.
  private values(how: Passes): Float32Array | undefined {
    const c = this.ground.column
    if (how === 'speed') return c.speed
    if (how === 'spacing') return c.spacing
    if (how === 'across') return c.across
    if (how === 'drawbar') return c.ahead.map((a, k) => { const d = Math.abs(a - c.facing[k]) % (2 * Math.PI); return 180 / Math.PI * Math.min(d, 2 * Math.PI - d) })
    return undefined
  }

  // limits are the upper limits of the classes but the last: fifths of the working fixes.
  limits(how: Passes): number[] {
    const value = this.values(how), c = this.ground.column
    const all = value ? Array.from(value).filter((v, k) => c.pass[k] && v >= 0).sort((a, b) => a - b) : []
    return ramp.slice(1).map((_, k) => all[Math.floor(all.length * (k + 1) / ramp.length)] ?? 0)
  }

  // stripAt is the strip at a place, or the nearest within a finger's breadth; 0 = none.
  private stripAt(at: XY): number {
    const reach = (this.map.getView().getResolution() ?? 1) * 7
    let found = 0, least = reach
    for (const f of this.missed.getFeaturesInExtent([at[0] - reach, at[1] - reach, at[0] + reach, at[1] + reach])) {
      if (!f.get('strip')) continue
      const g = f.getGeometry()!
      const [x, y] = g.getClosestPoint(at) // of its edge
      const far = g.intersectsCoordinate(at) ? 0 : Math.hypot(x - at[0], y - at[1])
      if (far <= least) { least = far; found = f.get('strip') }
    }
    return found
  }

  private point(at: XY | null, strip: number): void {
    const hint = this.pointed.getElement()!
    this.onPlace(at)
    if (!strip || !at) { this.pointed.setPosition(undefined); return }
    const s = this.list[strip - 1]
    hint.textContent = `${strip} · ${area(s.area)} · ${number(s.length)} m × ${number(s.widest, 2)} m · ${s.cause}`
    this.pointed.setPosition(at)
  }

  // pick finds when the set was at a place, within half its width: where it was nearest.
  private pick(at: XY): void {
    const c = this.ground.column
    let found = -1, least = this.settings.width / 2
    for (let k = 0; k < this.ground.places; k++) {
      if (!c.pass[k]) continue
      const far = Math.hypot(c.barX[k] - at[0], c.barY[k] - at[1])
      if (far <= least) { least = far; found = k }
    }
    if (found >= 0) this.onTime(c.seconds[found])
  }

  // show marks strips as chosen for re-work, and one as selected.
  show(chosen: Set<number>, selected: number): void {
    this.chosen = chosen
    this.selected = selected
    this.missed.changed()
    this.name()
  }

  zoomTo(n: number): void {
    const f = this.strips.get(n)
    if (!f) return
    const s = this.list[n - 1]
    const room = Math.max(8, s.length * 0.4)
    const e = f.getGeometry()!.getExtent()
    this.map.getView().fit([e[0] - room, e[1] - room, e[2] + room, e[3] + room], { size: this.map.getSize() })
  }

  // look shows a place and what is some metres about it.
  look([x, y]: XY): void { this.map.getView().fit([x - 12, y - 12, x + 12, y + 12], { size: this.map.getSize() }) }

  whole(): void {
    let half: [number, number, number, number] = [Infinity, Infinity, -Infinity, -Infinity]
    for (const rings of this.ground.layers.get('field') ?? []) for (const [x, y] of rings[0]) half = [Math.min(half[0], x), Math.min(half[1], y), Math.max(half[2], x), Math.max(half[3], y)]
    this.map.getView().fit(half, { size: this.map.getSize(), padding: [18, 18, 34, 18] })
  }

  // closer zooms by steps; below 0 it is farther off.
  closer(steps: number): void {
    const v = this.map.getView()
    v.setZoom((v.getZoom() ?? 0) + steps)
  }

  // place draws the set to scale where it was at place k.
  place(k: number): void {
    this.set.clear()
    const c = this.ground.column, s = this.settings, m = s.mount
    if (k < 0 || k >= this.ground.places) return
    const at: XY = [c.x[k], c.y[k]], a = [Math.cos(c.ahead[k]), Math.sin(c.ahead[k])], f = [Math.cos(c.facing[k]), Math.sin(c.facing[k])]
    const from = (p: XY, d: number[], ahead: number, right: number): XY => [p[0] + d[0] * ahead + d[1] * right, p[1] + d[1] * ahead - d[0] * right]
    const axle = from(at, a, -(m.antennaAhead ?? 0), -(m.antennaRight ?? 0))
    const bar: XY = [c.barX[k], c.barY[k]]
    const add = (g: Geometry, style: Style) => { const one = new Feature(g); one.setStyle(style); this.set.addFeature(one) }
    const t = s.tractor
    if (t.width) {
      const front = t.ahead ?? 0, rear = -(t.behind ?? 0), side = t.width / 2
      const box = [[front, -side], [front, side], [rear, side], [rear, -side], [front, -side]].map(([u, v]) => from(axle, a, u, v))
      add(new Polygon([box]), new Style({ fill: new Fill({ color: '#ffffffd0' }), stroke: new Stroke({ color: '#1E242B', width: 1.5 }) }))
    }
    const hitch = from(at, a, -(m.hitch ?? 0), -(m.antennaRight ?? 0))
    add(new LineString([hitch, from(bar, f, m.barBehind ?? 0, -(m.barRight ?? 0))]), new Style({ stroke: new Stroke({ color: '#1E242B', width: 2 }) }))
    const half = s.width / 2
    const working = c.pass[k] > 0
    add(new LineString([from(bar, f, 0, -half), from(bar, f, 0, half)]), new Style({ stroke: new Stroke({ color: '#1E242B', width: 5, lineDash: working ? undefined : [5, 7] }) }))
    add(new Point(at), new Style({ image: new CircleStyle({ radius: 4, fill: new Fill({ color: '#ffffff' }), stroke: new Stroke({ color: '#1E242B', width: 2 }) }) }))
    if (!this.map.getView().getAnimating()) {
      const extent = this.map.getView().calculateExtent(this.map.getSize())
      if (at[0] < extent[0] || at[0] > extent[2] || at[1] < extent[1] || at[1] > extent[3]) this.map.getView().setCenter(at)
    }
  }

  // turn has a direction lie up on the map, degrees clockwise from north, where it lies farther off than so many degrees.
  turn(up: number, least: number): void {
    const view = this.map.getView(), by = -up * Math.PI / 180, off = Math.abs(Math.atan2(Math.sin(by - view.getRotation()), Math.cos(by - view.getRotation())))
    if (off * 180 / Math.PI <= least) return
    view.setRotation(by)
    document.getElementById('north')!.style.transform = `rotate(${-up}deg)`
  }

  // here shows where this device is, and how well it knows that; null = nobody says.
  here(at: XY | null, error: number): void {
    this.self.clear()
    if (!at) return
    const about = new Feature<Geometry>(new Circle(at, error)), dot = new Feature<Geometry>(new Point(at))
    about.setStyle(new Style({ fill: new Fill({ color: 'rgba(31,111,208,0.15)' }), stroke: new Stroke({ color: '#1F6FD0', width: 1 }) }))
    dot.setStyle(new Style({ image: new CircleStyle({ radius: 8, fill: new Fill({ color: '#1F6FD0' }), stroke: new Stroke({ color: '#ffffff', width: 3 }) }) }))
    this.self.addFeatures([about, dot])
  }

  // goTo shows places with their numbers.
  goTo(places: { number: number; xy: XY }[]): void {
    this.places.clear()
    for (const p of places) {
      const f = new Feature<Geometry>(new Point(p.xy))
      f.setStyle(new Style({ image: new RegularShape({ points: 4, radius: 11, fill: new Fill({ color: '#ffffff' }), stroke: new Stroke({ color: ink, width: 2 }) }), text: new Text({ text: String(p.number), font: font(11), fill: new Fill({ color: ink }) }) }))
      this.places.addFeature(f)
    }
  }

  // measure draws a line or an area by hand and tells how long or large it is.
  measure(kind: 'Point' | 'LineString' | 'Polygon' | null, told: (words: string) => void, drawn: (at: XY[]) => void = () => {}): void {
    if (this.drawing) this.map.removeInteraction(this.drawing)
    this.drawing = undefined
    this.measures.clear()
    if (!kind) return
    const draw = this.drawing = new Draw({ source: this.measures, type: kind, style: new Style({ stroke: new Stroke({ color: line(), width: 2, lineDash: [2, 4] }), fill: new Fill({ color: 'rgba(39,54,74,0.12)' }), image: new CircleStyle({ radius: 4, fill: new Fill({ color: line() }) }) }) })
    const tell = (g: Geometry) => told(g instanceof LineString ? number(g.getLength(), 2) + ' m' : g instanceof Polygon ? area(g.getArea()) : '')
    draw.on('drawstart', e => { this.measures.clear(); e.feature.getGeometry()!.on('change', x => tell(x.target as Geometry)) })
    draw.on('drawend', e => {
      const g = e.feature.getGeometry()!
      tell(g)
      drawn(g instanceof Point ? [g.getCoordinates() as XY] : g instanceof Polygon ? g.getCoordinates()[0] as XY[] : [])
    })
    this.map.addInteraction(draw)
  }

  // mend lets a hand drag the corners of the boundary, and corners out of its edges; Alt and a click takes one away. It gives the rings
  // as they are then; null = the field has several parts, of which a correction has no form.
  mend(): (() => XY[][]) | null {
    this.measure(null, () => {})
    const parts = this.ground.layers.get('field') ?? []
    if (parts.length !== 1) return null
    const shape = new Polygon(parts[0])
    this.measures.addFeature(new Feature<Geometry>(shape))
    this.drawing = new Modify({ source: this.measures, style: new Style({ image: new CircleStyle({ radius: 8, fill: new Fill({ color: magenta }), stroke: new Stroke({ color: '#ffffff', width: 2 }) }) }) })
    this.map.addInteraction(this.drawing)
    return () => shape.getCoordinates() as XY[][]
  }

  // words of a place for people: latitude first.
  placeWords(at: XY): string {
    const [lon, lat] = degrees(this.ground, at)
    return `${lat.toFixed(6)}, ${lon.toFixed(6)}`
  }
}

