// What else balk says of an operation, by other verbs: compare, turn, sweeps, season, spots. Each has controls whose values are flags of its command.
import { call, el } from './address'
import { day as dayOf, zoneName } from './clock'
import { get, post, type View } from './api'
import { plane, type Ground, type XY } from './ground'
import { area, number, w } from './words'

export type Kind = 'handover' | 'compare' | 'turn' | 'sweeps' | 'season' | 'spots'
export const kinds: Kind[] = ['handover', 'compare', 'turn', 'sweeps', 'season', 'spots']
const heads: Record<Kind, string> = { handover: 'Hand over', compare: 'Compare', turn: 'Turn', sweeps: 'Sweeps', season: 'Season', spots: 'Spot checks' }

interface Told { command: string; said?: string; remarks: string[]; report?: any; cautions: string; files: { name: string; text: string }[] }

interface Control { flag: string; label: string; value: string; mount?: string; range?: [number, number, number]; text?: boolean }

// Place is one to go to.
export interface Place { number: number; at: [number, number]; why: string; words: string; reason: string; pass: number; section: number; strip: number; fromLeft: number; length: number; cautions: string }

// turnKinds are those of balk turn, the plainest first.
const turnKinds = ['plain U', 'bulb', 'hook', 'hook beyond', 'fishtail', 'three-arc shunt', 'shortest forward', 'shortest with reversing']

// reasons are why a place was chosen.
const reasons: Record<string, string> = { drawn: 'drawn', strip: 'strip', gap: 'unknown (log gap)' }

const svg = 'http://www.w3.org/2000/svg'
function drawn(parent: Element, name: string, values: Record<string, string | number>, words = ''): SVGElement {
  const e = document.createElementNS(svg, name)
  for (const [k, v] of Object.entries(values)) e.setAttribute(k, String(v))
  e.textContent = words
  parent.append(e)
  return e
}

function picture(width: number, height: number, words: string): SVGSVGElement {
  const e = document.createElementNS(svg, 'svg')
  e.setAttribute('viewBox', `0 0 ${width} ${height}`)
  e.setAttribute('role', 'img')
  e.setAttribute('aria-label', words)
  return e
}

export class Also {
  private asking?: AbortController
  private timer = 0
  private urls: string[] = []
  onPlaces: (places: Place[]) => void = () => {}
  onFlags: (flags: URLSearchParams) => void = () => {}
  places: Place[] = []

  constructor(private view: View, private ground: Ground, readonly kind: Kind, from: URLSearchParams) {
    el('also-head').textContent = w(heads[kind])
    const form = el('also-form')
    form.replaceChildren(...this.controls().map(c => {
      const label = document.createElement('label'), words = document.createElement('span'), input = document.createElement('input')
      words.textContent = w(c.label)
      input.name = c.mount ?? c.flag
      input.value = (c.mount ? from.getAll('mount').find(v => v.startsWith(c.mount + '='))?.split('=')[1] : from.get(c.flag)) ?? c.value
      input.dataset.flag = c.flag
      input.dataset.was = c.value
      if (c.mount) input.dataset.mount = c.mount
      label.append(words)
      if (c.range) {
        const value = input.value, told = document.createElement('output')
        ;[input.min, input.max, input.step] = c.range.map(String)
        input.type = 'range'
        input.value = value
        told.textContent = number(Number(input.value), 1) + ' m'
        input.addEventListener('input', () => { told.textContent = number(Number(input.value), 1) + ' m' })
        words.append(' ', told)
      } else if (!c.text) { input.type = 'number'; input.step = 'any' }
      input.addEventListener('input', () => { if (input.validity.valid) this.changed(c.range !== undefined) })
      label.append(input)
      return label
    }))
    form.onsubmit = e => { e.preventDefault(); void this.ask(false) }
    if (kind === 'season') form.append(...this.keeping())
    el('also-folder').onclick = () => {
      const a = document.createElement('a')
      a.href = this.path('folder') + '?' + this.flags(true)
      a.download = ''
      a.click()
    }
    this.clear()
    void this.ask(false)
  }

  private path(rest = ''): string {
    const verb = this.kind === 'turn' ? 'rowends' : this.kind
    return `/api/operations/${encodeURIComponent(this.view.id)}/also/${verb}${rest && '/' + rest}`
  }

  private controls(): Control[] {
    const s = this.view.settings
    if (this.kind === 'handover') return [{ flag: 'operation', label: 'Operation', value: '', text: true }, { flag: 'driver', label: 'who drove', value: '', text: true }, { flag: 'zone', label: 'time zone of the sheet', value: zoneName(), text: true }]
    if (this.kind === 'compare') {
      const c = this.ground.column
      const all = Array.from(c.speed).filter((v, k) => c.pass[k] && v > 0).sort((a, b) => a - b)
      const usual = all.length ? Math.max(1, Math.round(7.2 * all[all.length >> 1]) / 2) : 8
      return [{ flag: 'widths', label: 'beside widths, m', value: `${number(s.width * 2 / 3, 1)}; ${number(s.width * 1.5, 1)}`, text: true }, { flag: 'speed', label: 'speed, km/h', value: String(usual) },
        { flag: 'rounds', label: 'headland rounds', value: '' }, { flag: 'bearing', label: 'direction, °', value: '' }]
    }
    if (this.kind === 'turn') {
      const usual = s.headland || s.rounds * (s.width - s.overlap) || 2 * s.width
      return [{ flag: 'headland', label: 'headland', value: usual.toFixed(1), range: [1, Math.ceil(Math.max(60, 1.5 * usual)), 0.1] },
        ...(s.radius ? [{ flag: 'radius', label: 'turning radius', value: String(s.radius), range: [1, Math.ceil(Math.max(15, 1.5 * s.radius)), 0.1] as [number, number, number] }] : []),
        ...(s.mount.trailed ? [{ flag: 'mount', mount: 'drawbar', label: 'drawbar', value: String(s.mount.drawbar ?? 0), range: [0.5, Math.ceil(Math.max(10, 1.5 * (s.mount.drawbar ?? 0))), 0.1] as [number, number, number] }] : [])]
    }
    if (this.kind === 'sweeps') return [{ flag: 'want', label: 'crab angle wanted, °', value: '' }, { flag: 'bent', label: 'a leg bent by, m', value: '0.03' }]
    if (this.kind === 'season') return [{ flag: 'day', label: 'as it stood on', value: '', text: true }, { flag: 'due-days', label: 'due after days', value: '' }]
    return [{ flag: 'n', label: 'places drawn', value: '20' }, { flag: 'seed', label: 'other places, by number', value: '' }]
  }

  // flags are the values of the controls; all, or those that are not what they were.
  private flags(all: boolean): URLSearchParams {
    const out = new URLSearchParams()
    for (const i of el('also-form').querySelectorAll<HTMLInputElement>('input[data-flag]')) {
      const value = i.value.trim()
      if (value === '' || !all && value === i.dataset.was) continue
      out.append(i.dataset.flag!, i.dataset.mount ? i.dataset.mount + '=' + value : value)
    }
    return out
  }

  private changed(dragged: boolean): void {
    clearTimeout(this.timer)
    if (dragged) void this.ask(true)
    this.timer = window.setTimeout(() => this.ask(false), 600)
  }

  private waiting = false
  private busy = false

  // ask asks the verb; while a hand drags, of the turn alone, and never more than one at a time.
  private async ask(dragged: boolean): Promise<void> {
    if (dragged && this.busy) { this.waiting = true; return }
    this.asking?.abort()
    const asking = this.asking = new AbortController()
    const flags = this.flags(true)
    this.onFlags(this.flags(false))
    flags.set('lang', document.documentElement.lang)
    if (this.kind === 'turn') flags.set('skip', dragged ? '0' : '4')
    this.busy = true
    if (!dragged) el('also-said').textContent = w('working it out …')
    try {
      const told = await get<Told>((dragged ? `/api/operations/${encodeURIComponent(this.view.id)}/also/turn` : this.path()) + '?' + flags, asking.signal)
      if (asking.signal.aborted) return
      this.show(told)
    } catch (e) {
      if (asking.signal.aborted) return
      this.clear()
      el('also-said').textContent = e instanceof Error ? e.message : String(e)
    } finally { this.busy = asking !== this.asking && this.busy }
    if (this.waiting && dragged) { this.waiting = false; void this.ask(true) }
  }

  private clear(): void {
    for (const u of this.urls) URL.revokeObjectURL(u)
    this.urls = []
    el('also-shown').replaceChildren()
    el('also-said').textContent = el('also-command').textContent = el('also-cautions').textContent = ''
    el('also-after').hidden = true
  }

  private show(told: Told): void {
    const chosen = el('also-shown').querySelector('select')?.value
    this.clear()
    el('also-after').hidden = false
    el('also-said').textContent = (told.report?.answer ?? []).join(' ')
    call(el('also-command'), told.command)
    el('also-cautions').textContent = told.said ? '' : told.cautions // those of the terminal are among what is said
    const shown = el('also-shown')
    if (this.kind === 'handover') for (const page of told.files.filter(f => /^sheet.*\.svg$/.test(f.name))) this.drawing(shown, told, page.name, page.name)
    if (this.kind === 'compare') { this.drawing(shown, told, 'plans.svg', w('Compare')); this.ranked(shown, told.report); }
    if (this.kind === 'turn') this.turns(shown, told, chosen)
    if (this.kind === 'season') { this.days(shown, told.report); this.season(shown, told) }
    if (this.kind === 'spots') this.walk(shown, told)
    if (told.said) {
      const said = document.createElement('pre')
      said.className = 'said'
      said.tabIndex = 0
      said.textContent = told.said
      shown.prepend(said)
    }
    if (this.kind === 'sweeps') this.drawing(shown, told, 'sweeps.svg', w('Sweeps'))
    if (told.remarks.length) {
      const list = document.createElement('ul')
      list.className = 'chosen'
      list.append(...told.remarks.map(r => { const li = document.createElement('li'); li.textContent = r; return li }))
      shown.append(list)
    }
  }

  private drawing(to: Element, told: Told, name: string, words: string): void {
    const file = told.files.find(f => f.name === name)
    if (!file) return
    const img = document.createElement('img')
    img.alt = words
    img.className = 'drawn'
    img.src = URL.createObjectURL(new Blob([file.text], { type: 'image/svg+xml' }))
    this.urls.push(img.src)
    to.append(img)
  }

  private table(to: Element, heads: string[], rows: (string | number)[][]): void {
    const table = document.createElement('table'), scroll = document.createElement('div')
    scroll.className = 'wide'
    scroll.tabIndex = 0
    scroll.setAttribute('role', 'region')
    scroll.setAttribute('aria-label', `${el('also-head').textContent}: ${w('table')}`)
    const head = table.createTHead().insertRow()
    for (const h of heads) { const th = document.createElement('th'); th.scope = 'col'; th.textContent = h; head.append(th) }
    const body = table.createTBody()
    for (const r of rows) { const row = body.insertRow(); for (const v of r) row.insertCell().textContent = String(v) }
    scroll.append(table)
    to.append(scroll)
  }

  private ranked(to: Element, r: any): void {
    this.table(to, [w('rank'), w('set'), w('working width, m'), w('direction, °'), w('headland rounds'), w('passes'), w('turns'), w('missed'), w('worked twice or more'), 'h'],
      r.candidates.map((c: any, k: number) => [k + 1, c.name, number(c.width, 2), number((c.direction + 360) % 180), c.rounds, c.passes, c.turns, area(c.missed), area(c.double), number(c.hours, 2)]))
  }

  private turns(to: Element, told: Told, chosen?: string): void {
    const all = told.report.patterns as { skip: number; rowDistance: number; best?: string; turns: any[] }[]
    const next = all[0]
    const names = told.files.filter(f => /^turn-1-/.test(f.name)).map(f => f.name)
    const file = (kind: string) => `turn-1-${kind.toLowerCase().replace(/ /g, '-')}.svg`
    const known = turnKinds.map(k => next.turns.find(t => t.kind === k)).filter(t => t && names.includes(file(t.kind)))
    const best = known.find(t => t.kind === next.best) ?? known[0]
    const label = document.createElement('label'), select = document.createElement('select')
    label.append(w('kind of turn'), ' ', select)
    for (const t of known) select.add(new Option(w(t.kind), t.kind))
    if (best) select.value = known.some(t => t.kind === chosen) ? chosen! : best.kind
    const figure = document.createElement('div')
    const verdict = document.createElement('p')
    const show = () => {
      const t = known.find(t => t.kind === select.value)
      figure.replaceChildren()
      if (!t) return
      const margin = `${w(t.spare < 0 ? 'short by' : 'spare')} ${number(Math.abs(t.spare), 2)} m`
      verdict.textContent = [t.feasible ? w('fits') : w('does not fit'), margin, t.angle ? `${w('drawbar angle')} ${number(t.angle)}°` : '', `${w('swept')} ${area(t.swept)}`, `${number(t.time)} s`].filter(Boolean).join(' · ')
      this.drawing(figure, told, file(t.kind), `${w(t.kind)}: ${verdict.textContent}`)
    }
    select.onchange = show
    const pair = document.createElement('div')
    pair.className = 'pair'
    pair.append(figure)
    to.append(label, verdict, pair)
    show()
    this.drawing(pair, told, 'row-ends.svg', w('row ends'))
  }

  // days are the operations on one line of time; pointing at a day shows the field as it stood.
  private days(to: Element, r: any): void {
    const all = (r.operations as any[]).filter(o => o.begin)
    if (!all.length) return
    const caption = w('operations by day')
    const weathered = all.some(o => o.weather)
    const e = picture(720, weathered ? 130 : 90, caption)
    e.setAttribute('class', 'curve')
    const times = all.map(o => Date.parse(o.begin)), day = 86400e3, ends = all.map(o => o.weather ? Date.parse(o.weather.until) : 0)
    const from = Math.min(...times) - 5 * day, to_ = Math.max(...times, ...ends, Math.min(Date.parse(r.spec.day), Math.max(...times) + 60 * day)) + 5 * day
    const x = (t: number) => 20 + 680 * (t - from) / (to_ - from)
    drawn(e, 'line', { x1: 20, y1: 50, x2: 700, y2: 50, class: 'axis' })
    all.forEach((o, k) => {
      const at = x(times[k])
      drawn(e, 'circle', { cx: at, cy: 50, r: 6, class: (o.does ?? []).includes('cuts') ? 'best' : 'mark' })
      drawn(e, 'text', { x: at, y: k % 2 ? 78 : 34, 'text-anchor': 'middle' }, `${dayOf(Date.parse(o.begin))} · ${(o.does ?? []).map((d: string) => w(d)).join(', ')}`)
    })
    // Weather under each: a line as long as it stayed dry, thin from the first rain on, and what the air asked for until then.
    all.forEach((o, k) => {
      const wx = o.weather
      if (!wx) return
      const begin = x(Date.parse(wx.after)), rain = wx.firstRain ? x(Date.parse(wx.firstRain)) : x(Date.parse(wx.until)), y = k % 2 ? 120 : 100
      drawn(e, 'line', { x1: begin, y1: y, x2: rain, y2: y, class: 'dry' })
      if (wx.firstRain) drawn(e, 'path', { d: `M${rain} ${y - 8}l5 9a5 5 0 1 1-10 0z`, class: 'rain' })
      drawn(e, 'line', { x1: rain, y1: y, x2: x(ends[k]), y2: y, class: 'axis' })
      drawn(e, 'text', { x: Math.max(begin, x(ends[k])) + 8, y: y + 4 }, w('dry %s h, the air asked for %s mm', number((Date.parse(wx.firstRain ?? wx.until) - Date.parse(wx.after)) / 3600e3), number(wx.demand, 1)))
    })
    to.append(e)
  }

  // season are the layers of the season on a small field.
  private season(to: Element, told: Told): void {
    const layer = (name: string) => { const f = told.files.find(f => f.name === name); return f ? JSON.parse(f.text).features as any[] : [] }
    const field = (this.ground.layers.get('field') ?? [])
    const box = [Infinity, Infinity, -Infinity, -Infinity]
    for (const rings of field) for (const [x, y] of rings[0]) { box[0] = Math.min(box[0], x); box[1] = Math.min(box[1], -y); box[2] = Math.max(box[2], x); box[3] = Math.max(box[3], -y) }
    const e = picture(1, 1, w('missed by all, and times worked'))
    e.setAttribute('viewBox', `${box[0] - 5} ${box[1] - 5} ${box[2] - box[0] + 10} ${box[3] - box[1] + 10}`)
    e.setAttribute('class', 'season')
    const path = (rings: XY[][]) => rings.map(r => 'M' + r.map(p => `${p[0].toFixed(2)} ${(-p[1]).toFixed(2)}`).join('L') + 'Z').join('')
    const shape = (f: any, className: string) => {
      const polygons = f.geometry?.type === 'Polygon' ? [f.geometry.coordinates] : f.geometry?.type === 'MultiPolygon' ? f.geometry.coordinates : []
      for (const rings of polygons) drawn(e, 'path', { d: path(rings.map((r: [number, number][]) => r.map(p => plane(this.ground, p[0], p[1])))), class: className, 'fill-rule': 'evenodd' })
    }
    for (const rings of field) drawn(e, 'path', { d: path(rings), class: 'f-field', 'fill-rule': 'evenodd' })
    for (const f of layer('times-worked.geojson')) if (f.properties.times > 0) shape(f, `f-${Math.min(3, f.properties.times)}`)
    for (const f of layer('missed-by-all.geojson')) shape(f, 'f-missed')
    to.append(e)
    const legend = document.createElement('ul')
    legend.className = 'legend'
    for (const [key, words] of [['once', 'worked once'], ['twice', 'worked twice'], ['more', 'three times or more'], ['missed', 'missed by all']]) {
      const li = document.createElement('li'), i = document.createElement('i')
      i.className = 'k-' + key
      li.append(i, w(words))
      legend.append(li)
    }
    to.append(legend)
  }

  // keeping are the controls that put the operation shown into the farm.
  private keeping(): HTMLElement[] {
    const label = document.createElement('label'), words = document.createElement('span'), select = document.createElement('select'), button = document.createElement('button')
    words.textContent = w('the operation')
    for (const does of ['cuts', 'loosens', 'combs', 'rolls', 'seeds']) select.add(new Option(w(does), does))
    label.append(words, select)
    button.textContent = w('Keep this operation in the farm')
    button.type = 'button'
    button.onclick = async () => {
      el('also-said').textContent = w('working it out …')
      try {
        await post<Told>(`/api/operations/${encodeURIComponent(this.view.id)}/season?does=${select.value}&lang=${document.documentElement.lang}`)
        await this.ask(false)
      } catch (e) { el('also-said').textContent = e instanceof Error ? e.message : String(e) }
    }
    return [label, button]
  }

  private walk(to: Element, told: Told): void {
    this.places = told.report.places.map((p: any) => ({ number: p.number, at: p.at, cautions: told.cautions, reason: p.why, pass: p.pass ?? 0, section: p.section ?? 0, strip: p.strip ?? 0, fromLeft: p.fromLeft, length: p.length, why: w(reasons[p.why] ?? p.why), words: p.pass ? `${w('pass %s', p.pass)}${p.section ? ' · ' + w('section %s', p.section) : ''} · ${number(p.fromLeft, 2)}–${number(p.fromLeft + p.length, 2)} m` : p.strip ? w('strip %s', p.strip) : '' }))
    this.table(to, [w('no.'), w('chosen'), w('where to brush free'), w('place')], this.places.map(p => [p.number, p.why, p.words, `${p.at[1].toFixed(6)}, ${p.at[0].toFixed(6)}`]))
    this.onPlaces(this.places)
    void this.proved(to)
  }

  // proved is what the spot checks prove that were noted in the field and saved.
  private async proved(to: Element): Promise<void> {
    const path = `/api/operations/${encodeURIComponent(this.view.id)}/`, signal = this.asking?.signal
    const head = document.createElement('h3'), said = document.createElement('p'), command = document.createElement('pre')
    head.textContent = w('What was seen there')
    command.className = 'command'
    command.tabIndex = 0
    try {
      const notes = await get<{ seen?: unknown }[]>(path + 'notes', signal)
      if (!notes.some(n => n.seen)) return
      const told = await get<Told>(`${path}also/seen?lang=${document.documentElement.lang}`, signal)
      said.textContent = told.report.answer.join(' ')
      call(command, told.command)
    } catch (e) {
      if (signal?.aborted) return
      said.textContent = e instanceof Error ? e.message : String(e)
    }
    to.prepend(head, said, ...(command.textContent ? [command] : []))
  }

  dispose(): void {
    clearTimeout(this.timer)
    this.asking?.abort()
    this.clear()
  }
}
