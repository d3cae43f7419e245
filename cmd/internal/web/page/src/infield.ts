// In the field, on a phone: one strip or place at a time, how far and which way from here, and what was found there. What is ticked and
// noted stays on this device until it is saved, and needs no net.
import { el } from './address'
import { get, post, whole, type Strip, type View } from './api'
import { minute } from './clock'
import { Compass } from './compass'
import { degrees, plane, type Ground, type XY } from './ground'
import type { Place } from './also'
import type { FieldMap } from './map'
import { number, w } from './words'

export type State = 'done' | 'not found' | 'left' | ''
// Note is what somebody found at a strip or a place.
export interface Note { kind: 'strip' | 'place'; number: number; state: State; when: string; at: [number, number]; note: string; photo?: string; seen?: Seen }

// Seen is what was seen at a place of a spot check, and what was to be looked at there.
interface Seen { cut: string; ribs: string; depth: string; at?: [number, number]; accuracy?: number; why: string; pass: number; section: number; strip: number; fromLeft: number; length: number }

interface Goal { kind: 'strip' | 'place'; number: number; at: [number, number]; shape: XY[]; words: string; place?: Place }

const mostPhoto = 1280 // px on the longer side: enough to see a stem, and some hundred kB

// winds are the directions from north on, clockwise.
const winds = ['north', 'north-east', 'east', 'south-east', 'south', 'south-west', 'west', 'north-west']
const walking = 0.7 // m/s, from which on a receiver tells which way it goes (common practice, no source)
const least = 3 // degrees by which the map is turned at once: a hand is not steadier (common practice, no source)

const stateWords: Record<string, string> = { done: 'done', 'not found': 'not found', left: 'left as it is' }

const same = 1 // m, up to which a note lies at a strip or place: a number is another's after a correction, the ground stays

// keyOf is what a note is about: the same number at the same place, to a metre.
const keyOf = (n: Note) => `${n.kind} ${n.number} ${n.at.map(v => v.toFixed(5)).join(' ')}`

// Kept is what this device holds for one operation, in the browser's own store.
class Kept {
  notes = new Map<string, Note>()
  private store?: Promise<IDBDatabase>
  constructor(private name: string) {}

  private open(): Promise<IDBDatabase> {
    return this.store ??= new Promise((done, failed) => {
      const r = indexedDB.open('balk', 1)
      r.onupgradeneeded = () => { r.result.createObjectStore('notes') }
      r.onsuccess = () => done(r.result)
      r.onerror = () => failed(r.error)
    })
  }

  async read(): Promise<void> {
    const db = await this.open()
    const all = await new Promise<Note[]>((done, failed) => {
      const r = db.transaction('notes').objectStore('notes').get(this.name)
      r.onsuccess = () => done(r.result ?? [])
      r.onerror = () => failed(r.error)
    })
    this.take(all)
  }

  // take puts notes among those that are here; of two about the same the later holds.
  take(all: Note[]): void {
    for (const n of all) {
      const key = keyOf(n), here = this.notes.get(key)
      if (!here || here.when <= n.when) this.notes.set(key, n)
    }
  }

  async write(): Promise<void> {
    const db = await this.open()
    await new Promise<void>((done, failed) => {
      const t = db.transaction('notes', 'readwrite')
      t.objectStore('notes').put([...this.notes.values()], this.name)
      t.oncomplete = () => done()
      t.onerror = () => failed(t.error)
    })
  }
}

// nearest is the place of a ring that is nearest to a place; inside it, the place itself.
export function nearest(ring: XY[], at: XY): XY {
  if (ring.length < 2) return ring[0]
  let inside = false, best = ring[0], least = Infinity
  for (let k = 1; k < ring.length; k++) {
    const [a, b] = [ring[k - 1], ring[k]]
    if ((a[1] > at[1]) !== (b[1] > at[1]) && at[0] < a[0] + (b[0] - a[0]) * (at[1] - a[1]) / (b[1] - a[1])) inside = !inside
    const d: XY = [b[0] - a[0], b[1] - a[1]], length = d[0] * d[0] + d[1] * d[1]
    const t = length ? Math.max(0, Math.min(1, ((at[0] - a[0]) * d[0] + (at[1] - a[1]) * d[1]) / length)) : 0
    const p: XY = [a[0] + t * d[0], a[1] + t * d[1]], far = Math.hypot(p[0] - at[0], p[1] - at[1])
    if (far < least) { least = far; best = p }
  }
  return inside ? at : best
}

export class InField {
  private goals: Goal[] = []
  private goal = 0
  private here?: XY
  private error = 0
  private watch = 0
  private kept: Kept
  private of: 'strips' | 'places' = 'strips'
  private course = NaN // degrees, of somebody who walks
  private compass = new Compass(() => this.turn())
  private turning = false // the map is turned with the device

  constructor(private view: View, private ground: Ground, private map: FieldMap, private chosen: () => number[], private places: () => Place[], private selected: (n: number) => void) {
    this.kept = new Kept(`${view.field} ${view.from ?? ''}`)
    for (const b of el('infield').querySelectorAll<HTMLButtonElement>('[data-state]')) b.onclick = () => { void this.tick(b.dataset.state as State) }
    for (const b of el('infield').querySelectorAll<HTMLButtonElement>('[data-cut]')) b.onclick = () => { void this.tick('done', { cut: b.dataset.cut! }) }
    for (const id of ['goal-ribs', 'goal-depth']) el<HTMLInputElement>(id).onchange = () => { void this.tick(undefined, { [id.slice(5)]: el<HTMLInputElement>(id).value.trim() }) }
    el('goal-turning').onclick = () => { void this.turnMap(!this.turning) }
    el('goal-next').onclick = () => this.next()
    el('goal-before').onclick = () => this.show(this.goal - 1)
    el<HTMLInputElement>('goal-note').onchange = () => { void this.tick(undefined) }
    el<HTMLInputElement>('goal-photo').onchange = e => { void this.photo(e.target as HTMLInputElement) }
    el<HTMLSelectElement>('goal-of').onchange = e => { this.of = (e.target as HTMLSelectElement).value as 'strips' | 'places'; this.list(); this.show(0) }
    el('goal-save').onclick = () => { void this.save() }
    el<HTMLInputElement>('goal-read').onchange = e => { void this.readBack(e.target as HTMLInputElement) }
    void this.begin()
  }

  private async begin(): Promise<void> {
    try { await this.kept.read() } catch { /* this device keeps nothing: what is ticked lasts as long as the page */ }
    if (!whole) try { this.kept.take(await get<Note[]>(this.path())) } catch { /* no net: what this device keeps is shown */ }
    this.list()
    this.mark()
    if (this.open) this.next()
  }

  private path(): string { return `/api/operations/${encodeURIComponent(this.view.id)}/notes` }

  // on follows where this device is, as long as the band is open.
  on(yes: boolean): void {
    this.open = yes
    if (this.watch) navigator.geolocation.clearWatch(this.watch)
    this.watch = 0
    if (!yes) { this.compass.end(); void this.turnMap(false); this.map.here(null, 0); return }
    void this.compass.begin()
    this.list()
    this.next()
    if (!navigator.geolocation) { this.noPlace(); return }
    this.watch = navigator.geolocation.watchPosition(p => {
      this.here = plane(this.ground, p.coords.longitude, p.coords.latitude)
      this.error = p.coords.accuracy
      this.course = p.coords.heading !== null && (p.coords.speed ?? 0) >= walking ? p.coords.heading : NaN
      this.map.here(this.here, this.error)
      this.turn()
    }, () => this.noPlace(), { enableHighAccuracy: true, maximumAge: 2000 })
  }

  private noPlace(): void { el('goal-where').textContent = w('this device does not say where it is: a browser asks only where the page came from this device or over https') }

  private list(): void {
    const shapes = this.ground.layers.get('strips') ?? []
    const strip = (n: number): Goal => { const s: Strip = this.view.strips[n - 1]; return { kind: 'strip', number: n, at: s.at, shape: shapes[n - 1][0], words: `${w('strip %s', n)} · ${number(s.length)} m × ${number(s.widest, 2)} m · ${s.along || s.cause}` } }
    const place = (p: Place): Goal => ({ kind: 'place', number: p.number, at: p.at, shape: [plane(this.ground, ...p.at)], place: p, words: `${w('place %s', p.number)} · ${p.words}` })
    const places = this.places()
    el('goal-of').parentElement!.hidden = places.length === 0
    if (!places.length) this.of = 'strips'
    this.goals = this.of === 'places' ? places.map(place) : (this.view.telling === 'none' ? [] : this.chosen()).map(strip)
    this.goal = Math.min(this.goal, Math.max(0, this.goals.length - 1))
    this.match()
  }

  private note(): Note | undefined { return this.about(this.goals[this.goal]) }
  private about(g?: Goal): Note | undefined { return g && this.found.get(g.kind + g.number) }
  private found = new Map<string, Note>()

  // match finds what each note is about now: the strip or place of its number, or another that lies where it was made. The latest holds.
  private match(): void {
    const shapes = this.ground.layers.get('strips') ?? []
    const all = { strip: this.view.strips.map((s, k) => ({ number: s.number, shape: shapes[k]?.[0] ?? [] })), place: this.places().map(p => ({ number: p.number, shape: [plane(this.ground, ...p.at)] })) }
    this.found.clear()
    for (const n of [...this.kept.notes.values()].sort((a, b) => Date.parse(a.when) - Date.parse(b.when))) {
      const at = plane(this.ground, ...n.at), here = (one?: { shape: XY[] }) => { if (!one?.shape.length) return false; const p = nearest(one.shape, at); return Math.hypot(p[0] - at[0], p[1] - at[1]) <= same }
      const own = all[n.kind].find(one => one.number === n.number), one = here(own) ? own : all[n.kind].find(here)
      if (one) this.found.set(n.kind + one.number, n)
    }
  }

  // next is the nearest that is not ticked yet, or the next in the order of the list where nobody knows where we are.
  private next(): void {
    const open = this.goals.map((g, k) => ({ g, k })).filter(({ g, k }) => k !== this.goal && !this.about(g)?.state)
    if (!open.length) { this.show(this.goal); return }
    const far = ({ g, k }: { g: Goal; k: number }) => { if (!this.here) return (k - this.goal + this.goals.length) % this.goals.length; const p = nearest(g.shape, this.here); return Math.hypot(p[0] - this.here[0], p[1] - this.here[1]) }
    const current = this.goals[this.goal]
    if (!this.here && current && !this.about(current)?.state && this.first) { this.first = false; this.show(this.goal); return }
    this.first = false
    this.show(open.reduce((a, b) => far(b) < far(a) ? b : a).k)
  }
  private first = true
  private open = false

  private show(k: number): void {
    this.goal = Math.max(0, Math.min(this.goals.length - 1, k))
    const g = this.goals[this.goal]
    if (g?.kind === 'strip') this.selected(g.number)
    if (g?.kind === 'place') this.map.look(g.shape[0])
    el('goal-cautions').textContent = g?.place?.cautions ?? this.view.again
    this.tell()
  }

  private tell(): void {
    const g = this.goals[this.goal], n = this.note()
    el('goal-what').textContent = g ? g.words : w('nothing to go to')
    for (const [id, value] of [['goal-note', n?.note], ['goal-ribs', n?.seen?.ribs], ['goal-depth', n?.seen?.depth]] as const) el<HTMLInputElement>(id).value = value ?? ''
    for (const id of ['goal-cut', 'goal-ribs-label', 'goal-depth-label']) el(id).hidden = !g?.place
    for (const b of el('infield').querySelectorAll<HTMLButtonElement>('[data-state]')) { b.disabled = !g; b.hidden = b.dataset.state === 'done' && !!g?.place; b.setAttribute('aria-pressed', String(!!g && n?.state === b.dataset.state)) }
    for (const b of el('infield').querySelectorAll<HTMLButtonElement>('[data-cut]')) b.setAttribute('aria-pressed', String(!!n?.state && n.seen?.cut === b.dataset.cut))
    const ticked = this.goals.filter(g => this.about(g)?.state).length
    const photos = [...this.kept.notes.values()].filter(n => n.photo).length
    el('goal-kept').textContent = w('%s of %s ticked, %s photos', ticked, this.goals.length, photos) + (n?.when && n.state ? ` · ${w(stateWords[n.state])} ${minute(Date.parse(n.when))}` : '')
    this.turn()
  }

  // turn tells how far it is from here and which way, and has arrow and map follow the device. What is being written stays.
  private turn(): void {
    const g = this.goals[this.goal], by = Number.isNaN(this.compass.heading) ? this.course : this.compass.heading
    if (this.turning && !Number.isNaN(by)) this.map.turn(by, least)
    if (!g || !this.here) { el('goal-turn').textContent = ''; return }
    const to = nearest(g.shape, this.here), dx = to[0] - this.here[0], dy = to[1] - this.here[1]
    const far = Math.hypot(dx, dy), bearing = (Math.atan2(dx, dy) * 180 / Math.PI + 360) % 360
    const aside = Number.isNaN(by) ? bearing : (bearing - by + 540) % 360 - 180
    el('goal-arrow').setAttribute('transform', `rotate(${aside.toFixed(0)} 24 24)`)
    el('goal-turn').textContent = far < 0.5 ? '' : Number.isNaN(by) ? `${w(winds[Math.round(bearing / 45) % 8])} · ${w('arrow: north is up')}`
      : `${Math.abs(aside) <= 15 ? w('straight on') : Math.abs(aside) >= 150 ? w('behind you') : w(aside > 0 ? '%s° to the right' : '%s° to the left', number(Math.abs(aside)))} · ${w(Number.isNaN(this.compass.heading) ? 'arrow: by the way you walk' : 'arrow: by the compass')}`
    el('goal-where').textContent = far < 0.5 ? w('you stand on it (± %s m)', number(this.error)) : w('%s m, towards %s° (± %s m)', number(far, far < 10 ? 1 : 0), number(bearing), number(this.error))
  }

  // turnMap has the map turn with the device, or lie with north up.
  private async turnMap(on: boolean): Promise<void> {
    this.turning = on
    el('goal-turning').setAttribute('aria-pressed', String(on))
    if (!on) { this.map.turn(0, 0); return }
    if (!await this.compass.begin() && Number.isNaN(this.course)) el('goal-kept').textContent = w('this device does not say how it is turned: the map turns as you walk')
    this.turn()
  }

  // seenAt is what was seen at a place, by whom stands there.
  private seenAt(p: Place, was: Seen | undefined, found: Partial<Seen>): Seen {
    const here = this.here ? { at: degrees(this.ground, this.here), accuracy: this.error } : {}
    return { cut: '', ribs: '', depth: '', why: p.reason, pass: p.pass, section: p.section, strip: p.strip, fromLeft: p.fromLeft, length: p.length, ...was, ...here, ...found }
  }

  private async tick(state: State | undefined, found: Partial<Seen> = {}, photo?: string): Promise<void> {
    const g = this.goals[this.goal]
    if (!g) return
    const was = this.note()
    if (found.cut && was?.state === 'done' && was.seen?.cut === found.cut) found = { cut: '' } // pressed again: taken back
    else if (found.cut && was?.state === 'done') state = undefined // done still, with the other finding
    const seen = g.place && (was?.seen || Object.keys(found).length) ? this.seenAt(g.place, was?.seen, found) : was?.seen
    const n: Note = { kind: g.kind, number: g.number, at: g.at, state: state === undefined ? was?.state ?? '' : was?.state === state ? '' : state, when: new Date().toISOString(), note: el<HTMLInputElement>('goal-note').value.trim(), photo: photo ?? was?.photo, ...(seen ? { seen } : {}) }
    this.kept.notes.set(keyOf(n), n)
    this.match()
    let lost = ''
    try { await this.kept.write() } catch (e) { lost = String(e) }
    this.mark() // what is shown as ticked is kept
    this.tell()
    if (lost) el('goal-kept').textContent = lost
  }

  private async photo(input: HTMLInputElement): Promise<void> {
    const file = input.files?.[0]
    input.value = ''
    if (!file) return
    try {
      const all = await createImageBitmap(file), scale = Math.min(1, mostPhoto / Math.max(all.width, all.height))
      const c = document.createElement('canvas')
      c.width = Math.round(all.width * scale); c.height = Math.round(all.height * scale)
      c.getContext('2d')!.drawImage(all, 0, 0, c.width, c.height)
      await this.tick(undefined, {}, c.toDataURL('image/jpeg', 0.8))
    } catch { el('goal-kept').textContent = w('this is no picture: %s', file.name) }
  }

  // mark hatches on the map what is done.
  private mark(): void {
    this.map.done = new Set(this.view.strips.map(s => s.number).filter(n => this.found.get('strip' + n)?.state === 'done'))
    el('map').dataset.done = [...this.map.done].join(' ') // a canvas cannot be asked what is on it
    this.map.show(this.map.chosen, this.map.selected)
  }

  private async save(): Promise<void> {
    const all = [...this.kept.notes.values()]
    try {
      if (whole) {
        const a = document.createElement('a')
        a.href = URL.createObjectURL(new Blob([JSON.stringify(all)], { type: 'application/json' }))
        a.download = 'notes.json'
        a.click()
        URL.revokeObjectURL(a.href)
        return
      }
      this.kept.take(await post<Note[]>(this.path(), all))
      this.match()
      el('goal-kept').textContent = w('saved')
    } catch (e) { el('goal-kept').textContent = e instanceof Error ? e.message : String(e) }
  }

  // readBack takes what another device saved as a file.
  private async readBack(input: HTMLInputElement): Promise<void> {
    const file = input.files?.[0]
    input.value = ''
    if (!file) return
    try {
      const all = JSON.parse(await file.text())
      if (!Array.isArray(all) || !all.every(n => ['strip', 'place'].includes(n?.kind) && Number.isInteger(n.number) && typeof n.when === 'string')) throw new Error('no notes')
      this.kept.take(all)
      await this.kept.write()
      this.match()
      this.mark()
      await this.save()
      this.tell()
    } catch { el('goal-kept').textContent = w('these are no notes of this page: %s', file.name) }
  }

  dispose(): void { this.compass.end(); if (this.watch) navigator.geolocation.clearWatch(this.watch) }
}
