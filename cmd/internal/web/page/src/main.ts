// The page: what was put on it, the answer, and the three bands that answer to each other: map, list and time.
import { follow, get, numbers, post, Refused, remove, send, type Source, type View } from './api'
import { unpack, type Ground } from './ground'
import { StripList } from './list'
import { Corrections } from './correct'
import { FieldMap, newView, type Passes } from './map'
import { changes, Suppose } from './suppose'
import { TimeBand } from './time'
import { lang, number, speak, w } from './words'

function el<T extends HTMLElement = HTMLElement>(id: string): T { return document.getElementById(id) as T }

// address is what the address holds, so that a view can be marked or sent.
const address = new URLSearchParams(location.hash.slice(1))
function keep(): void { history.replaceState(null, '', '#' + address.toString()) }
function note(name: string, value: string | null): void {
  if (value === null || value === '') address.delete(name); else address.set(name, value)
  keep()
}

let listed: Source[] = []
let shown: Shown | undefined
let work = new AbortController() // of what is being read

class Shown {
  map: FieldMap
  list: StripList
  band: TimeBand
  other?: FieldMap
  selected = 0
  private asking?: AbortController
  private timer = 0
  private playing = 0

  constructor(public view: View, readonly ground: Ground) {
    const v = view
    el('what').textContent = [v.field, v.set, v.from && v.to ? `${v.from} – ${v.to.replace(/^\S+ (?=\d\d:\d\d)/, v.from.slice(0, 10) === v.to.slice(0, 10) ? '' : '$&')}` : ''].filter(Boolean).join(' · ')
    document.title = v.field + ' – balk'
    this.answer()
    el('wide').textContent = v.wide
    el('cautions').textContent = v.again
    el('cautions').hidden = !v.again
    el('command').textContent = v.command
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
    this.map.onPlace = at => { if (!this.measuring) el('place').textContent = at ? this.map.placeWords(at) : '' }
    this.band.onTime = k => { this.map.place(k); this.other?.place(k); note('t', String(Math.round(this.band.at))) }
    const strip = Number(address.get('strip'))
    if (strip >= 1 && strip <= v.strips.length) this.select(strip, false, true)
    if (address.has('t')) this.band.go(Number(address.get('t')))
    this.corrections = new Corrections(v, ground, this.map, this.band, () => { void show(v.id.replace(/\.\d+$/, ''), v.id) })
    this.correct(address.has('correct'))
    const flags = this.flags()
    new Suppose(el('suppose-form'), v.settings, flags).onChange = f => this.suppose(f)
    if (flags.size) { this.open(true); this.ask(flags) } else this.open(false)
  }

  private answer(): void {
    const v = this.view
    const more = document.createElement('span')
    more.className = 'more'
    more.textContent = ' ' + v.answer.slice(1, 3).join(' ')
    el('answer').replaceChildren(v.answer[0], more)
    el('stands').textContent = v.answer.slice(3).join(' ')
  }

  private strips(): StripList {
    const list = new StripList(el('list'), this.view, address.has('cut') ? Number(address.get('cut')) : undefined)
    list.onStrip = (n, zoom) => this.select(n, zoom, false)
    list.onCut = chosen => { note('cut', String(list.cut)); this.map.show(chosen, this.selected) }
    return list
  }

  // whole takes what going back wins, which takes longer to work out than all else.
  whole(view: View): void {
    this.view = view
    this.answer()
    this.list = this.strips()
    this.list.select(this.selected, false)
    this.map.show(this.list.chosen(), this.selected)
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
    if (has('outside')) rows.push(['outside', w('worked outside')])
    if (has('headland')) rows.push(['headland', w('headland')])
    if (has('tight')) rows.push(['tight', w('turn too tight')])
    const how = el<HTMLSelectElement>('passes').value
    if (how === 'order') rows.push(['0', w('first passes')], ['4', w('last passes')])
    if (how === 'speed') {
      const limits = this.map.speeds().map(v => number(3.6 * v, 1))
      limits.forEach((l, k) => rows.push([String(k), w('up to %s km/h', l)]))
      rows.push(['4', w('faster')])
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

  private corrections: Corrections
  correct(yes: boolean): void {
    el('correct').setAttribute('aria-expanded', String(yes))
    el('corrections').hidden = !yes
    if (!yes) this.corrections.dispose()
    note('correct', yes ? '1' : null)
  }

  private drop(): void {
    this.asking?.abort()
    this.other?.dispose()
    this.other = undefined
    el('map-other').replaceChildren()
    el('driven-words').hidden = el('other').hidden = true
    el('changes').textContent = ''
    el('command').textContent = this.view.command
    for (const k of [...address.keys()]) if (k.startsWith('if.')) address.delete(k)
    keep()
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
      el('command').textContent = view.command
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
    this.map.dispose()
    this.other?.dispose()
  }
}

// only shows one of the states of the page.
function only(id: 'put' | 'busy' | 'fault' | 'field' | ''): void {
  for (const one of ['put', 'busy', 'fault', 'field']) el(one).hidden = one !== id
  el('more').hidden = id === 'put'
}

function fail(e: unknown): void {
  if (e instanceof DOMException && e.name === 'AbortError') return
  el('busy').hidden = true
  el('fault').hidden = false
  el('fault-words').textContent = e instanceof Error ? e.message : String(e)
  if (!shown) el('put').hidden = false
  if (!(e instanceof Refused)) console.error(e)
}

function busy(what: string, done: number, of: number): void {
  el('busy').hidden = false
  el('busy-what').textContent = what
  const bar = el<HTMLProgressElement>('busy-bar')
  if (of > 0) { bar.max = of; bar.value = done } else bar.removeAttribute('value')
}

// show reads what was put on the page, and shows one operation of it.
async function show(source: string, operation?: string): Promise<void> {
  work.abort()
  const now = work = new AbortController()
  shown?.dispose()
  shown = undefined
  only('busy')
  delete el('field').dataset.whole
  try {
    const s = await follow(source, lang, s => busy(s.what ?? '', s.done, s.of), now.signal)
    listed = await get<Source[]>(`/api/sources?lang=${lang}`, now.signal)
    const id = s.operations.find(o => o.id === operation)?.id ?? s.operations[0].id
    choices(id)
    busy(w('working out the ground'), 0, 0)
    const path = `/api/operations/${encodeURIComponent(id)}/`
    const view = await get<View>(`${path}view?lang=${lang}&haste=1`, now.signal)
    const ground = unpack(await numbers(`${path}ground?haste=1`, now.signal))
    if (now.signal.aborted) return
    note('op', id)
    only('field')
    shown = new Shown(view, ground)
    performance.mark('shown')
    shown.whole(await get<View>(`${path}view?lang=${lang}`, now.signal))
  } catch (e) {
    if (now.signal.aborted) return
    only('')
    fail(e)
  }
}

// choices are the operations that the page knows.
function choices(id: string): void {
  const select = el<HTMLSelectElement>('which')
  select.replaceChildren()
  for (const s of listed) {
    const name = s.files.map(f => f.replace(/.*[\\/]/, '')).join(', ')
    for (const o of s.operations.length ? s.operations : [{ id: s.id + '.1' }] as Source['operations']) {
      const option = document.createElement('option')
      option.value = o.id
      option.textContent = [name, o.field && w('field') + ' ' + o.field, o.days].filter(Boolean).join(' · ')
      select.append(option)
    }
  }
  select.value = id
  el('which-label').hidden = select.options.length < 2
}

// empty is the page on which files are put.
async function empty(): Promise<void> {
  work.abort()
  shown?.dispose()
  shown = undefined
  only('put')
  note('op', null)
  el('what').textContent = 'balk'
  el('which-label').hidden = true
  listed = await get<Source[]>(`/api/sources?lang=${lang}`)
  const earlier = el('earlier')
  earlier.replaceChildren()
  if (!listed.length) return
  const head = document.createElement('h2')
  head.textContent = w('Here already')
  earlier.append(head)
  for (const s of listed) {
    const row = document.createElement('div'), open = document.createElement('button')
    open.type = 'button'
    open.textContent = s.files.join(', ')
    open.onclick = () => show(s.id)
    row.append(open)
    if (s.kept) {
      const away = document.createElement('button')
      away.type = 'button'
      away.textContent = w('Remove')
      away.onclick = () => remove(`/api/sources/${encodeURIComponent(s.id)}`).then(empty, fail)
      row.append(away)
    }
    earlier.append(row)
  }
}

let put: { name: string; file: File }[] = []
function choose(files: { name: string; file: File }[]): void {
  for (const f of files) if (!put.some(p => p.name === f.name)) put.push(f)
  el('chosen').replaceChildren(...put.map(f => {
    const li = document.createElement('li'), away = document.createElement('button')
    li.textContent = `${f.name} (${number(f.file.size / 1024)} KiB) `
    away.type = 'button'
    away.textContent = w('Leave out')
    away.setAttribute('aria-label', w('Leave out') + ' ' + f.name)
    away.onclick = () => { put = put.filter(p => p !== f); choose([]) }
    li.append(away)
    return li
  }))
}

// entries are the files of what was dropped, folders opened.
async function entries(items: DataTransferItemList): Promise<{ name: string; file: File }[]> {
  const out: { name: string; file: File }[] = []
  const walk = async (e: FileSystemEntry): Promise<void> => {
    if (e.isFile) {
      const file = await new Promise<File>((done, failed) => (e as FileSystemFileEntry).file(done, failed))
      out.push({ name: e.fullPath.replace(/^\//, ''), file })
      return
    }
    const reader = (e as FileSystemDirectoryEntry).createReader()
    for (;;) {
      const some = await new Promise<FileSystemEntry[]>((done, failed) => reader.readEntries(done, failed))
      if (!some.length) return
      for (const one of some) await walk(one)
    }
  }
  const all = Array.from(items).map(i => i.webkitGetAsEntry()).filter(e => e !== null)
  for (const e of all) await walk(e)
  return out
}

async function upload(): Promise<void> {
  if (!put.length) { fail(new Refused(w('no files chosen'))); return }
  work.abort()
  const now = work = new AbortController()
  el('fault').hidden = true
  only('busy')
  try {
    const flags = { width: el<HTMLInputElement>('put-width').value, overlap: el<HTMLInputElement>('put-overlap').value, rounds: el<HTMLInputElement>('put-rounds').value }
    const s = await send(put, flags, part => busy(w('taking the files'), part, 1), now.signal)
    put = []
    choose([])
    await show(s.id)
  } catch (e) {
    if (now.signal.aborted) return
    only('put')
    fail(e)
  }
}

function words(): void {
  for (const e of document.querySelectorAll<HTMLElement>('[data-w]')) e.textContent = w(e.dataset.w!)
  for (const e of document.querySelectorAll<HTMLElement>('[data-label]')) e.setAttribute('aria-label', w(e.dataset.label!))
  el('tongue').textContent = lang === 'de' ? 'English' : 'Deutsch'
  el('tongue').lang = lang === 'de' ? 'en' : 'de'
}

async function start(): Promise<void> {
  await speak(address.get('lang') ?? (navigator.language.startsWith('de') ? 'de' : 'en'))
  words()
  const again = async () => {
    const op = address.get('op')
    listed = await get<Source[]>(`/api/sources?lang=${lang}`)
    const of = listed.find(s => op?.startsWith(s.id + '.')) ?? (op ? undefined : listed.find(s => s.id === 'call'))
    if (of) await show(of.id, op ?? undefined); else await empty()
  }
  el('tongue').onclick = async () => {
    await speak(lang === 'de' ? 'en' : 'de')
    note('lang', lang)
    words()
    await again()
  }
  el('more').onclick = () => { void empty().catch(fail) }
  el<HTMLSelectElement>('which').onchange = e => {
    const id = (e.target as HTMLSelectElement).value
    for (const k of [...address.keys()]) if (k !== 'lang') address.delete(k)
    void show(id.replace(/\.\d+$/, ''), id)
  }
  el('demo').onclick = async () => {
    only('busy')
    busy(w('making the farm'), 0, 0)
    try { await show((await post<Source>('/api/demo')).id) } catch (e) { fail(e) }
  }
  el('cancel').onclick = () => {
    work.abort()
    void empty().catch(fail)
  }
  const drop = el('drop')
  document.ondragover = e => { e.preventDefault(); drop.classList.add('over') }
  document.ondragleave = () => drop.classList.remove('over')
  document.ondrop = async e => {
    e.preventDefault()
    drop.classList.remove('over')
    if (!e.dataTransfer) return
    const files = await entries(e.dataTransfer.items)
    if (shown) await empty()
    choose(files)
  }
  for (const id of ['files', 'folder']) {
    el<HTMLInputElement>(id).onchange = e => {
      const input = e.target as HTMLInputElement
      choose(Array.from(input.files ?? []).map(file => ({ name: file.webkitRelativePath || file.name, file })))
      input.value = ''
    }
  }
  el('put-form').onsubmit = e => { e.preventDefault(); void upload() }
  el('whole').onclick = () => shown?.map.whole()
  el('closer').onclick = () => shown?.map.closer(1)
  el('farther').onclick = () => shown?.map.closer(-1)
  el('length').onclick = e => shown?.measure((e.currentTarget as HTMLElement).getAttribute('aria-pressed') === 'true' ? null : 'LineString')
  el('area').onclick = e => shown?.measure((e.currentTarget as HTMLElement).getAttribute('aria-pressed') === 'true' ? null : 'Polygon')
  el<HTMLSelectElement>('passes').onchange = e => {
    const how = (e.target as HTMLSelectElement).value as Passes
    note('passes', how)
    shown?.map.colour(how)
    shown?.other?.colour(how)
    shown?.legend()
  }
  el('what-if').onclick = e => shown?.open((e.currentTarget as HTMLElement).getAttribute('aria-expanded') !== 'true')
  el('correct').onclick = e => shown?.correct((e.currentTarget as HTMLElement).getAttribute('aria-expanded') !== 'true')
  el('play').onclick = e => shown?.replay((e.currentTarget as HTMLElement).getAttribute('aria-pressed') !== 'true')
  el('copy').onclick = () => navigator.clipboard.writeText(el('command').textContent ?? '')
  el('hand-over').onclick = () => {
    if (!shown) return
    const a = document.createElement('a')
    a.href = `/api/operations/${encodeURIComponent(shown.view.id)}/handover?lang=${lang}`
    a.download = ''
    a.click()
  }
  document.addEventListener('keydown', e => {
    if (!shown || e.target instanceof HTMLInputElement) return
    if (e.key === '/') { e.preventDefault(); shown.list.focus(shown.selected || shown.view.worth[0]?.strips[0] || 1) }
    if (e.key === 'Escape') { shown.measure(null); shown.select(0, false, false); shown.map.whole() }
  })
  window.matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => void again())
  await again()
}

void start().catch(fail)
