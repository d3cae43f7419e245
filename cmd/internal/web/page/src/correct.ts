// Corrections: what somebody knows better than boundary and log. They stand in the farm, by which the commands go too, and can be taken back.
import { el } from './address'
import { clock, day, instant } from './clock'
import { correct, get, remove, type Correction, type View } from './api'
import { degrees, type Ground, type XY } from './ground'
import type { FieldMap } from './map'
import type { TimeBand } from './time'
import { w } from './words'

const names: Record<string, string> = {
  worked: 'this stretch was worked', lifted: 'here the tool was lifted', aside: 'set these fixes aside', gate: 'a gate is here', obstacle: 'an obstacle is here', 'no-go': 'nobody may drive here', boundary: 'another boundary',
}

export class Corrections {
  private from = NaN // s of the ground's times
  private to = NaN
  private place: XY[] = []
  private rings: (() => XY[][]) | null = null // of a boundary that is mended
  private drawing = false

  constructor(private view: View, private ground: Ground, private map: FieldMap, band: TimeBand, private changed: () => void) {
    const kind = el<HTMLSelectElement>('correct-kind')
    kind.onchange = () => this.fit()
    el('correct-begin').onclick = () => { this.from = Math.max(0, band.at); this.write() }
    el('correct-end').onclick = () => { this.to = Math.max(0, band.at); this.write() }
    el('correct-from').onchange = () => { this.from = this.read('correct-from') }
    el('correct-to').onchange = () => { this.to = this.read('correct-to') }
    el('correct-place').onclick = () => this.draw(!this.drawing)
    el('correct-form').onsubmit = e => { e.preventDefault(); void this.put() }
    const c = ground.column
    if (ground.begin) for (const [id, at] of [['correct-from', 0], ['correct-to', c.seconds[ground.places - 1] ?? 0]] as const) el<HTMLInputElement>(id).placeholder = clock(ground.begin, at)
    this.write()
    this.fit()
    void this.list().catch(e => { el('correct-said').textContent = e instanceof Error ? e.message : String(e) })
  }

  private placed(): boolean { return ['gate', 'obstacle', 'no-go', 'boundary'].includes(el<HTMLSelectElement>('correct-kind').value) }

  // fit shows what a correction of the kind chosen needs: times, or a place.
  private fit(): void {
    const placed = this.placed()
    for (const id of ['correct-from', 'correct-to']) el(id).parentElement!.hidden = placed
    for (const id of ['correct-begin', 'correct-end']) el(id).hidden = placed
    el('correct-place').hidden = !placed
    this.draw(false)
  }

  private draw(on: boolean): void {
    this.drawing = on
    el('correct-place').setAttribute('aria-pressed', String(on))
    if (on) this.place = []
    this.rings = null
    if (on && el<HTMLSelectElement>('correct-kind').value === 'boundary') {
      this.rings = this.map.mend()
      el('correct-said').textContent = this.rings ? w('drag the corners of the boundary, or new ones out of its edges') : w('this field has several parts: mend its boundary in its file')
      return
    }
    this.map.measure(on ? el<HTMLSelectElement>('correct-kind').value === 'gate' ? 'Point' : 'Polygon' : null, () => {}, at => { this.place = at })
  }

  // words of a time: of the day on which the log begins.
  private words(seconds: number): string { return Number.isNaN(seconds) ? '' : clock(this.ground.begin, seconds) }

  private write(): void {
    el<HTMLInputElement>('correct-from').value = this.words(this.from)
    el<HTMLInputElement>('correct-to').value = this.words(this.to)
  }

  private read(id: string): number {
    return instant(1000 * this.ground.begin, el<HTMLInputElement>(id).value.trim()) / 1000 - this.ground.begin
  }

  private async put(): Promise<void> {
    const kind = el<HTMLSelectElement>('correct-kind').value
    const said = el('correct-said')
    const time = (s: number) => new Date(1000 * (this.ground.begin + s)).toISOString()
    if (!this.placed() && (!this.ground.begin || Number.isNaN(this.from) || Number.isNaN(this.to))) { said.textContent = w('say from when and to when, as 06:30:00'); return }
    const rings = (this.rings?.() ?? [this.place]).map(r => r.map(p => degrees(this.ground, p)))
    if (this.placed() && !rings[0].length) { said.textContent = w('draw it on the map first'); return }
    said.textContent = w('working it out …')
    try {
      await correct(this.view.id, {
        kind, place: this.placed() ? rings[0] : [], ...(rings.length > 1 ? { holes: rings.slice(1) } : {}), ...(this.placed() ? {} : { begin: time(this.from), end: time(this.to) }),
        who: el<HTMLInputElement>('correct-who').value, why: el<HTMLInputElement>('correct-why').value,
      })
      this.draw(false)
      said.textContent = ''
      this.changed()
    } catch (e) { said.textContent = e instanceof Error ? e.message : String(e) }
  }

  // list shows all corrections of the field, each with a button to take it back.
  private async list(): Promise<void> {
    const path = `/api/operations/${encodeURIComponent(this.view.id)}/corrections`
    const all = await get<Correction[]>(path)
    el('correct-list').replaceChildren(...all.map(c => {
      const li = document.createElement('li'), back = document.createElement('button')
      const when = c.begin || c.end ? ` · ${[c.begin, c.end].map(at => at ? `${day(Date.parse(at))} ${clock(Date.parse(at) / 1000, 0)}` : '').join(' – ')}` : ''
      li.textContent = `${w(names[c.kind] ?? c.kind)}${when} · ${[c.who, c.why].filter(Boolean).join(': ')} (${day(Date.parse(c.made))}) `
      back.type = 'button'
      back.textContent = w('Take back')
      back.onclick = () => remove(`${path}/${c.number}`).then(this.changed, e => { el('correct-said').textContent = String(e.message ?? e) })
      li.append(back)
      return li
    }))
  }

  dispose(): void { this.draw(false) }
}
