// One operation on the page: the answer, and the three bands that answer to each other: map, list and time.
import { address, call, el, keep, note } from './address'
import { Also, kinds, type Kind, type Place } from './also'
import { get, numbers, post, whole, type View } from './api'
import { span, tellIn } from './clock'
import { Corrections } from './correct'
import { plane, unpack, type Ground } from './ground'
import { InField } from './infield'
import { StripList } from './list'
import { FieldMap, newView, type Passes } from './map'
import { changes, Suppose } from './suppose'
import { TimeBand } from './time'
import { lang, number, w } from './words'

// Shown is one operation on the page.
export class Shown {
  map: FieldMap
  list: StripList
  band: TimeBand
  other?: FieldMap
  selected = 0
  private asking?: AbortController
  private timer = 0
  private playing = 0

  constructor(public view: View, readonly ground: Ground, again: () => void) {
    const v = view
    tellIn(v.zone)
    el('what').textContent = [v.field, v.set, v.from && v.to ? span(Date.parse(v.from), Date.parse(v.to)) : ''].filter(Boolean).join(' · ')
    document.title = v.field + ' – balk'
    this.answer()
    el('wide').textContent = v.wide
    el('weather').textContent = v.weather ?? ''
    el('cautions').textContent = v.again
    el('cautions').hidden = !v.again
    call(el('command'), v.command)
    this.balance()
    const remarks = el('remarks')
    remarks.replaceChildren()
    if (v.remarks.length) {
      const head = document.createElement('h2'), list = document.createElement('ul')
      head.textContent = w('Remarks')
      for (const r of v.remarks) { const li = document.createElement('li'); li.textContent = r; list.append(li) }
      remarks.append(head, list)
    }
    el('field').hidden = false
    const shared = newView(ground.half)
    const passes = (address.get('passes') ?? 'plain') as Passes
    el<HTMLSelectElement>('passes').value = passes
    el<HTMLOptionElement>('by-drawbar').hidden = !v.settings.mount.trailed
    el<HTMLOptionElement>('by-across').hidden = !ground.column.across.some(v => v >= 0)
    const target = el('map')
    target.replaceChildren()
    target.setAttribute('aria-label', w('map of the field') + '. ' + v.answer[0])
    this.map = new FieldMap(target, ground, v.telling === 'none' ? [] : v.strips, v.settings, shared, passes)
    this.map.whole()
    this.legend()
    el('list').setAttribute('aria-label', w('Missed strips'))
    this.list = this.strips()
    this.band = new TimeBand(el('band'), el('when'), el('now'), ground)
    el('when').setAttribute('aria-label', w('time'))
    el('band').setAttribute('aria-hidden', 'true')
    this.map.show(this.list.chosen(), 0)
    this.map.onStrip = (n, zoom) => this.select(n, zoom, true)
    this.map.onTime = t => this.band.go(t)
    this.map.onPlace = at => { if (!this.measuring) el('place').textContent = at ? this.map.placeWords(at) : '' }
    this.band.onTime = k => { this.map.place(k); this.other?.place(k); note('t', String(Math.round(this.band.at))) }
    const strip = Number(address.get('strip'))
    if (strip >= 1 && strip <= v.strips.length) this.select(strip, false, true)
    if (address.has('t')) this.band.go(Number(address.get('t')))
    if (!whole) this.corrections = new Corrections(v, ground, this.map, this.band, again)
    this.correct(address.has('correct'))
    this.field = new InField(v, ground, this.map, () => { const chosen = [...this.list.chosen()]; return chosen.length ? chosen : v.strips.map(s => s.number) }, () => this.places, n => this.select(n, true, false))
    this.inField(address.has('field'))
    const kind = address.get('also') as Kind
    if (!whole) this.also(kinds.includes(kind) ? kind : null)
    const flags = this.flags()
    const supposed = new Suppose(el('suppose-form'), v.settings, flags)
    supposed.onChange = f => this.suppose(f)
    supposed.onUse = f => { void this.use(f, again) }
    if (flags.size) { this.open(true); this.ask(flags) } else this.open(false)
  }

  private answer(): void {
    const v = this.view
    const more = document.createElement('span')
    more.className = 'more'
    more.textContent = ' ' + v.answer.slice(1).join(' ')
    el('answer').replaceChildren(v.answer[0], more)
    el('settle').textContent = v.settle.join(' ')
    el('stands').textContent = v.holds.join(' ').replace(/--(?=\w)/g, '\u2060-\u2060-\u2060') // a flag is not broken
  }

  private strips(): StripList {
    const list = new StripList(el('list'), this.view, address.has('cut') ? Number(address.get('cut')) : undefined)
    list.onStrip = (n, zoom) => this.select(n, zoom, false)
    list.onCut = chosen => { note('cut', String(list.cut)); this.map.show(chosen, this.selected) }
    return list
  }

  // whole takes what going back wins, which takes longer to work out than all else.
  whole(view: View): void {
    const same = !view.worth.length && !this.view.worth.length
    this.view = view
    this.answer()
    if (!same) {
      this.list = this.strips()
      this.list.select(this.selected, false)
      this.map.show(this.list.chosen(), this.selected)
    }
    el('field').dataset.whole = view.id
  }

  // flags are those that the address supposes.
  private flags(): URLSearchParams {
    const out = new URLSearchParams()
    for (const [k, v] of address) if (k.startsWith('if.')) out.append(k.slice(3), v)
    return out
  }

  select(n: number, zoom: boolean, scroll: boolean): void {
    this.selected = n
    note('strip', n ? String(n) : null)
    this.list.select(n, scroll)
    this.map.show(this.list.chosen(), n)
    const s = this.view.strips[n - 1]
    this.band.mark(s ? s.passes : [])
    if (s && zoom) this.map.zoomTo(n)
  }

  measuring = false
  measure(kind: 'LineString' | 'Polygon' | null): void {
    this.measuring = kind !== null
    el('length').setAttribute('aria-pressed', String(kind === 'LineString'))
    el('area').setAttribute('aria-pressed', String(kind === 'Polygon'))
    el('place').textContent = kind ? w('click corners on the map, twice at the last') : ''
    this.map.measure(kind, words => { el('place').textContent = words })
  }

  private balance(): void {
    const table = document.createElement('table')
    table.className = 'balance'
    this.view.table.forEach((r, k) => {
      const row = k ? table.insertRow() : table.createTHead().insertRow()
      for (const text of [r.Words, r.Ha, r.Share]) {
        const cell = document.createElement(k ? 'td' : 'th')
        cell.textContent = text
        row.append(cell)
      }
    })
    el('balance').replaceChildren(table)
  }

  legend(): void {
    const has = (name: string) => (this.ground.layers.get(name) ?? []).length > 0
    const rows: [string, string][] = [['once', w('worked once')]]
    if (has('double')) rows.push(['twice', w('worked twice')])
    if (has('triple')) rows.push(['more', w('three times or more')])
    if (has('strips')) rows.push(['missed', w('missed')])
    if (has('unknown')) rows.push(['unknown', w('unknown (log gap)')])
    if (has('ribbons')) rows.push(['ribbons', w('uncut between sweeps')])
    if (has('bars')) rows.push(['bars', w('missed by one bar')])
    if (has('outside')) rows.push(['outside', w('worked outside')])
    if (has('headland')) rows.push(['headland', w('headland')])
    if (has('tight')) rows.push(['tight', w('turn too tight')])
    const how = el<HTMLSelectElement>('passes').value as Passes
    if (how === 'order') rows.push(['0', w('first passes')], ['4', w('last passes')])
    if (how === 'surety') ['logged as work', 'told from the driving', 'doubtful', 'not known'].forEach((words, k) => { if (this.ground.column.surety.some((v, at) => v === k && this.ground.column.pass[at] > 0)) rows.push(['sure-' + k, w(words)]) })
    if (how === 'speed' || how === 'spacing' || how === 'drawbar' || how === 'across') {
      const say = { speed: (v: number) => w('up to %s km/h', number(3.6 * v, 1)), spacing: (v: number) => w('up to %s m', number(v, 2)), drawbar: (v: number) => w('up to %s°', number(v, 1)), across: (v: number) => w('up to %s percent', number(v, 1)) }[how]
      this.map.limits(how).forEach((l, k) => rows.push([String(k), say(l)]))
      rows.push(['4', how === 'speed' ? w('faster') : w('more')])
    }
    el('legend').replaceChildren(...rows.map(([key, words]) => {
      const li = document.createElement('li'), i = document.createElement('i')
      i.className = 'k-' + key
      li.append(i, words)
      return li
    }))
  }

  open(yes: boolean): void {
    el('what-if').setAttribute('aria-expanded', String(yes))
    el('suppose').hidden = !yes
    el('driven-words').hidden = el('other').hidden = !yes || !this.other
    if (yes || !this.other) return
    this.drop()
    this.map.map.updateSize()
    this.map.whole()
  }

  private corrections?: Corrections
  correct(yes: boolean): void {
    el('correct').setAttribute('aria-expanded', String(yes))
    el('corrections').hidden = !yes
    if (!yes) this.corrections?.dispose()
    note('correct', yes ? '1' : null)
  }

  // also shows what another verb says of the operation; null puts it away.
  also(kind: Kind | null): void {
    this.asked?.dispose()
    this.asked = undefined
    for (const b of document.querySelectorAll<HTMLElement>('[data-also]')) b.setAttribute('aria-expanded', String(b.dataset.also === kind))
    el('also').hidden = !kind
    const from = new URLSearchParams()
    if (address.get('also') === kind) for (const [k, v] of address) if (k.startsWith('own.')) from.append(k.slice(4), v)
    note('also', kind)
    this.owns(new URLSearchParams())
    if (!kind) return
    this.asked = new Also(this.view, this.ground, kind, from)
    this.asked.onFlags = flags => this.owns(flags)
    this.asked.onPlaces = places => { this.places = places; this.map.goTo(places.map(p => ({ number: p.number, xy: plane(this.ground, ...p.at) }))) }
  }
  private asked?: Also
  private places: Place[] = []

  // owns keeps the flags of another verb in the address.
  private owns(flags: URLSearchParams): void {
    for (const k of [...address.keys()]) if (k.startsWith('own.')) address.delete(k)
    for (const [k, v] of flags) address.append('own.' + k, v)
    keep()
  }

  private field: InField
  inField(yes: boolean): void {
    el('in-field').setAttribute('aria-expanded', String(yes))
    el('infield').hidden = !yes
    this.field.on(yes)
    note('field', yes ? '1' : null)
  }

  private drop(): void {
    this.asking?.abort()
    this.other?.dispose()
    this.other = undefined
    el('map-other').replaceChildren()
    el('driven-words').hidden = el('other').hidden = true
    el('changes').textContent = ''
    call(el('command'), this.view.command)
    for (const k of [...address.keys()]) if (k.startsWith('if.')) address.delete(k)
    keep()
  }

  // use writes what is supposed of the set into its file, and looks at the operation again.
  private async use(flags: URLSearchParams, again: () => void): Promise<void> {
    clearTimeout(this.timer)
    try {
      await post(`/api/operations/${encodeURIComponent(this.view.id)}/set?${flags}&lang=${lang}`)
      this.drop()
      again()
    } catch (e) { el('changes').textContent = e instanceof Error ? e.message : String(e) }
  }

  private suppose(flags: URLSearchParams): void {
    clearTimeout(this.timer)
    this.timer = window.setTimeout(() => this.ask(flags), 150)
  }

  private async ask(flags: URLSearchParams): Promise<void> {
    this.asking?.abort()
    if (!flags.size) { this.drop(); this.map.map.updateSize(); this.map.whole(); return }
    const asking = this.asking = new AbortController()
    const path = `/api/operations/${encodeURIComponent(this.view.id)}/`
    const query = new URLSearchParams(flags)
    query.set('haste', '1')
    const drawn = query.toString()
    query.set('lang', lang)
    el('changes').textContent = w('working it out …')
    try {
      const view = await get<View>(`${path}view?${query}`, asking.signal)
      const ground = unpack(await numbers(`${path}ground?${drawn}`, asking.signal))
      if (asking.signal.aborted) return
      for (const k of [...address.keys()]) if (k.startsWith('if.')) address.delete(k)
      for (const [k, v] of flags) address.append('if.' + k, v)
      keep()
      const fresh = !this.other
      this.other?.dispose()
      el('driven-words').hidden = el('other').hidden = false
      const target = el('map-other')
      target.replaceChildren()
      target.setAttribute('aria-label', w('as supposed') + '. ' + view.answer[0])
      this.other = new FieldMap(target, ground, view.telling === 'none' ? [] : view.strips, view.settings, this.map.map.getView(), el<HTMLSelectElement>('passes').value as Passes)
      this.map.map.updateSize()
      this.other.map.updateSize()
      if (fresh) this.map.whole() // the halves are narrower
      el('changes').textContent = changes(this.view, view)
      call(el('command'), view.command)
      if (this.band.at >= 0) this.band.go(this.band.at)
    } catch (e) {
      if (asking.signal.aborted) return
      el('changes').textContent = e instanceof Error ? e.message : String(e)
    }
  }

  replay(on: boolean): void {
    cancelAnimationFrame(this.playing)
    el('play').setAttribute('aria-pressed', String(on))
    if (!on) return
    const last = Number(el<HTMLInputElement>('when').max)
    let at = this.band.at < 0 || this.band.at >= last ? 0 : this.band.at
    let before = performance.now()
    const step = (t: number) => {
      at += (t - before) / 1000 * Math.max(20, last / 60) // all of it in a minute
      before = t
      this.band.go(at)
      if (at < last) this.playing = requestAnimationFrame(step); else this.replay(false)
    }
    this.playing = requestAnimationFrame(step)
  }

  dispose(): void {
    this.asking?.abort()
    this.replay(false)
    this.field.dispose()
    this.asked?.dispose()
    this.map.dispose()
    this.other?.dispose()
  }
}

