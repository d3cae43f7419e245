// The operation over time: passes in the order driven, the speed, and a line at the time shown on the map.
import { placeAt, type Ground } from './ground'
import { clock } from './clock'
import { number, w } from './words'

export class TimeBand {
  at = -1
  private last = 0
  onTime: (place: number) => void = () => {}
  pass = 0

  constructor(private canvas: HTMLCanvasElement, private range: HTMLInputElement, private words: HTMLElement, private ground: Ground) {
    this.curves = this.curvesOf()
    this.last = ground.places ? ground.column.seconds[ground.places - 1] : 0
    range.max = String(Math.ceil(this.last))
    range.value = '0'
    range.oninput = () => this.go(Number(range.value))
    canvas.onpointermove = e => { if (e.buttons & 1) this.go(this.time(e)) }
    canvas.onpointerdown = e => { canvas.setPointerCapture(e.pointerId); this.go(this.time(e)) }
    new ResizeObserver(([e]) => { this.size = [e.contentRect.width, e.contentRect.height]; this.draw() }).observe(canvas)
  }

  private time(e: PointerEvent): number {
    const r = this.canvas.getBoundingClientRect()
    return this.last * Math.max(0, Math.min(1, (e.clientX - r.left) / r.width))
  }

  // go shows a time: seconds from the begin.
  go(seconds: number): void {
    this.at = Math.max(0, Math.min(this.last, seconds))
    this.range.value = String(this.at)
    const k = placeAt(this.ground, this.at), c = this.ground.column
    const speed = c.speed[k] >= 0 ? ` · ${number(3.6 * c.speed[k], 1)} km/h` : ''
    const what = c.pass[k] ? w('pass %s', c.pass[k]) : w('lifted')
    const apart = c.spacing[k] >= 0 ? ` · ${w('spacing to the neighbour')} ${number(c.spacing[k], 2)} m` : ''
    this.words.textContent = `${clock(this.ground.begin, this.at)} · ${what}${speed}${apart}`
    this.range.setAttribute('aria-valuetext', this.words.textContent)
    this.line()
    this.onTime(k)
  }

  // begin is when a pass begins.
  begin(pass: number): number { return this.ground.passes[pass - 1]?.[0] ?? -1 }

  // mark shows which passes are pointed at.
  mark(passes: number[]): void { this.marked = new Set(passes); this.draw() }
  private marked = new Set<number>()

  private size = [0, 0] // px, as it was laid out
  private ink = ''
  private base = document.createElement('canvas') // all but the line at the time shown: it changes only with the size and with what is pointed at
  private curves: { column: Float32Array; least: number; most: number; words: string }[]

  // curvesOf are the columns that are drawn, each from 0, or else from the least, up to its most, but for rare values.
  private curvesOf(): TimeBand['curves'] {
    const c = this.ground.column
    const of = (column: Float32Array, from0: boolean, words: (v: number) => string) => {
      const all = column.filter((v, k) => v >= 0 && c.pass[k]).sort()
      if (!all.length) return []
      const least = from0 ? 0 : all[Math.floor(all.length * 0.01)], most = Math.max(all[Math.floor(all.length * 0.99)], least + 0.1)
      return [{ column, least, most, words: words(most) }]
    }
    return [...of(c.speed, true, v => number(3.6 * v, 1) + ' km/h'), ...of(c.spacing, false, v => number(v, 2) + ' m')]
  }

  draw(): void {
    if (!this.size[0]) return
    const scale = Math.min(window.devicePixelRatio, 2)
    this.canvas.width = this.base.width = Math.round(this.size[0] * scale)
    this.canvas.height = this.base.height = Math.round(this.size[1] * scale)
    const { width, height } = this.base
    const g = this.base.getContext('2d')!
    const style = getComputedStyle(this.canvas)
    const ink = this.ink = style.color, faint = style.getPropertyValue('--rule').trim() || '#999'
    const x = (t: number) => this.last ? t / this.last * width : 0
    const top = 14 * scale
    this.ground.passes.forEach(([from, to], k) => {
      if (from < 0) return
      g.fillStyle = this.marked.has(k + 1) ? '#C2247F' : '#A08A4E'
      g.fillRect(x(from), 2 * scale, Math.max(1, x(to) - x(from) - scale), top - 4 * scale)
    })
    const c = this.ground.column, each = (height - top) / 2
    this.curves.forEach(({ column, least, most, words }, n) => {
      const high = top + n * each + 3 * scale, low = top + (n + 1) * each - 2 * scale
      g.strokeStyle = faint
      g.lineWidth = scale
      g.beginPath(); g.moveTo(0, low); g.lineTo(width, low); g.stroke()
      g.strokeStyle = ink
      g.lineWidth = 1.2 * scale
      g.beginPath()
      const y = (v: number) => low - (low - high) * Math.max(0, Math.min(1, (v - least) / (most - least)))
      const step = Math.max(1, Math.floor(this.ground.places / (2 * width)))
      let open = false
      for (let k = 0; k < this.ground.places; k += step) {
        if (!(column[k] >= 0)) { open = false; continue }
        if (open) g.lineTo(x(c.seconds[k]), y(column[k])); else g.moveTo(x(c.seconds[k]), y(column[k]))
        open = true
      }
      g.stroke()
      g.font = `${11 * scale}px "DejaVu Sans", sans-serif`
      g.fillStyle = style.getPropertyValue('--paper')
      g.fillRect(0, high, g.measureText(words).width + 6 * scale, 15 * scale)
      g.fillStyle = ink
      g.fillText(words, 3 * scale, high + 11 * scale)
    })
    this.line()
  }

  // line draws the time shown over all that is drawn already.
  private line(): void {
    const { width, height } = this.base
    if (!width || !height) return
    const g = this.canvas.getContext('2d')!, at = this.last ? this.at / this.last * width : 0
    g.clearRect(0, 0, width, height)
    g.drawImage(this.base, 0, 0)
    if (this.at < 0) return
    g.strokeStyle = this.ink
    g.lineWidth = 2 * Math.min(window.devicePixelRatio, 2)
    g.beginPath(); g.moveTo(at, 0); g.lineTo(at, height); g.stroke()
  }
}
