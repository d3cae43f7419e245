// The page: what was put on it, and the operation that is shown.
import { address, el, note } from './address'
import { type Kind } from './also'
import { follow, get, numbers, post, Refused, remove, send, whole, type Source, type View, type Whole } from './api'
import { unpack } from './ground'
import { type Passes } from './map'
import { Shown } from './shown'
import { lang, number, speak, w } from './words'

let listed: Source[] = []
let shown: Shown | undefined
let work = new AbortController() // of what is being read
let unread = '' // came just now, and is being read

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

// show reads what was put on the page, and shows one operation of it. What came just now is taken away again where that cannot be, or is
// cancelled: its files are in the list still.
async function show(source: string, operation?: string, fresh = false): Promise<void> {
  work.abort()
  const now = work = new AbortController()
  shown?.dispose()
  shown = undefined
  only('busy')
  delete el('field').dataset.whole
  unread = fresh ? source : ''
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
    unread = ''
    if (fresh) { put = []; choose([]) }
    note('op', id)
    only('field')
    shown = new Shown(view, ground, () => { void show(source, id) })
    performance.mark('shown')
    shown.whole(await get<View>(`${path}view?lang=${lang}`, now.signal))
  } catch (e) {
    if (now.signal.aborted) return
    only('')
    fail(e)
    await discard()
  }
}

// discard takes away what came just now and was not shown.
async function discard(): Promise<void> {
  if (unread) await remove(`/api/sources/${encodeURIComponent(unread)}`).catch(fail)
  unread = ''
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
  const now = work = new AbortController()
  shown?.dispose()
  shown = undefined
  only('put')
  note('op', null)
  el('what').textContent = 'balk'
  el('which-label').hidden = true
  listed = await get<Source[]>(`/api/sources?lang=${lang}`, now.signal)
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
    await show(s.id, undefined, true)
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

// bind ties the controls of an operation to the one that is shown.
function bind(): void {
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
  el('in-field').onclick = e => {
    shown?.inField((e.currentTarget as HTMLElement).getAttribute('aria-expanded') !== 'true')
    el('infield').scrollIntoView({ block: 'start' })
  }
  for (const b of document.querySelectorAll<HTMLElement>('[data-also]')) b.onclick = () => shown?.also(b.getAttribute('aria-expanded') === 'true' ? null : b.dataset.also as Kind)
  el('play').onclick = e => shown?.replay((e.currentTarget as HTMLElement).getAttribute('aria-pressed') !== 'true')
  el('copy').onclick = () => { // where the page came from another computer the browser lets nobody write to its clipboard, but copies what is marked
    getSelection()?.selectAllChildren(el('command'))
    document.execCommand('copy')
  }
  document.addEventListener('keydown', e => {
    if (!shown || e.target instanceof HTMLInputElement) return
    if (e.key === '/') { e.preventDefault(); shown.list.focus(shown.selected || shown.view.worth[0]?.strips[0] || 1) }
    if (e.key === 'Escape') { shown.measure(null); shown.select(0, false, false); shown.map.whole() }
  })
}

// alone shows the operation that stands in the page itself: nothing is asked of a server.
function alone(w: Whole): void {
  document.documentElement.classList.add('alone')
  only('field')
  const packed = atob(w.ground)
  shown = new Shown(w.view, unpack(Uint8Array.from(packed, c => c.charCodeAt(0)).buffer), () => {})
  shown.whole(w.view)
}

async function start(): Promise<void> {
  await speak(whole?.lang ?? address.get('lang') ?? (navigator.language.startsWith('de') ? 'de' : 'en'))
  words()
  bind()
  if (whole) { alone(whole); return }
  const again = async () => {
    work.abort()
    const now = work = new AbortController()
    const op = address.get('op')
    listed = await get<Source[]>(`/api/sources?lang=${lang}`, now.signal)
    const of = listed.find(s => op?.startsWith(s.id + '.')) ?? (op ? undefined : listed.find(s => s.id === 'call'))
    if (of) await show(of.id, op ?? undefined); else await empty()
  }
  const turn = async () => {
    await speak(lang === 'de' ? 'en' : 'de')
    note('lang', lang)
    words()
    await again()
  }
  el('tongue').onclick = () => { void turn().catch(fail) }
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
  const cancel = async () => {
    work.abort()
    await discard()
    await empty()
  }
  el('cancel').onclick = () => { void cancel().catch(fail) }
  const drop = el('drop')
  document.ondragover = e => { e.preventDefault(); drop.classList.add('over') }
  document.ondragleave = () => drop.classList.remove('over')
  const dropped = async (items: DataTransferItemList) => {
    const files = await entries(items)
    if (shown) await empty()
    choose(files)
  }
  document.ondrop = e => {
    e.preventDefault()
    drop.classList.remove('over')
    if (e.dataTransfer) void dropped(e.dataTransfer.items).catch(fail)
  }
  for (const id of ['files', 'folder']) {
    el<HTMLInputElement>(id).onchange = e => {
      const input = e.target as HTMLInputElement
      choose(Array.from(input.files ?? []).map(file => ({ name: file.webkitRelativePath || file.name, file })))
      input.value = ''
    }
  }
  el('put-form').onsubmit = e => { e.preventDefault(); void upload() }
  window.matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => void again().catch(fail))
  await again()
}

void start().catch(fail)
