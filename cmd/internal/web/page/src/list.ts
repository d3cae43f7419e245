// The missed strips by what is won per minute, with the line above which they are worked again.
import type { View } from './api'
import { area, minutes, number, w } from './words'

export class StripList {
  cut = 0
  private selected = 0
  private rows = new Map<number, HTMLTableRowElement>()
  private line?: HTMLElement
  private order: number[] = []
  private ends: number[] = [] // of each step: rows up to there
  onCut: (chosen: Set<number>) => void = () => {}
  onStrip: (n: number, zoom: boolean) => void = () => {}

  constructor(private body: HTMLElement, private view: View, cut?: number) {
    this.cut = Math.min(cut ?? view.knee, view.worth.length)
    this.draw()
  }

  // chosen are the strips above the line; all, where nothing tells what they win.
  chosen(): Set<number> {
    return new Set(this.view.worth.slice(0, this.cut).flatMap(s => s.strips))
  }

  private draw(): void {
    const v = this.view
    const worth = v.worth.length > 0
    this.body.replaceChildren()
    const table = document.createElement('table')
    table.className = 'strips'
    const caption = table.createCaption()
    caption.textContent = worth ? w('Missed strips in the order worth most: each wins this on top of those above') : w('Missed strips, largest first')
    const heads = table.createTHead().insertRow()
    for (const h of [...(worth ? [w('m² a minute'), w('until done')] : []), w('strip'), 'm²', w('length'), w('widest'), w('along')]) {
      const th = document.createElement('th')
      th.scope = 'col'
      th.textContent = h
      heads.append(th)
    }
    const rows = table.createTBody()
    const most = Math.max(...v.worth.map((_, k) => this.rate(k)), 1e-9)
    const listed = new Set<number>()
    v.worth.forEach((step, k) => {
      step.strips.forEach((n, i) => {
        listed.add(n)
        const row = this.row(rows, n)
        const bar = row.insertCell(0), time = row.insertCell(1)
        if (i === 0) {
          const share = document.createElement('span')
          share.className = 'won'
          share.style.width = Math.round(100 * this.rate(k) / most) + '%'
          bar.append(share, number(60 * this.rate(k)))
          time.textContent = minutes(step.time)
        }
      })
      this.ends.push(this.order.length)
    })
    const rest = v.strips.filter(s => !listed.has(s.number))
    if (worth && rest.length) {
      const cell = rows.insertRow().insertCell()
      cell.colSpan = 7
      cell.className = 'aside'
      cell.textContent = w('not worth a visit by themselves: %s', rest.length)
    }
    for (const s of rest) {
      const row = this.row(rows, s.number)
      if (worth) { row.insertCell(0); row.insertCell(1) }
    }
    this.listen(rows)
    this.body.append(table)
    if (worth) this.addLine(rows)
    this.place()
  }

  // rate is what a step wins, m² a second, on top of the one before.
  private rate(k: number): number {
    const [a, b] = [this.view.worth[k - 1] ?? { area: 0, time: 0 }, this.view.worth[k]]
    return b.time > a.time ? (b.area - a.area) / (b.time - a.time) : 0
  }

  private row(body: HTMLTableSectionElement, n: number): HTMLTableRowElement {
    const s = this.view.strips[n - 1]
    const row = body.insertRow()
    this.order.push(n)
    this.rows.set(n, row)
    const name = row.insertCell()
    const button = document.createElement('button')
    button.type = 'button'
    button.textContent = s.sure || s.surety === '' ? String(n) : n + '?'
    button.setAttribute('aria-label', w('strip %s', n))
    button.title = s.surety
    name.append(button)
    row.insertCell().textContent = number(s.area, s.area < 10 ? 1 : 0)
    row.insertCell().textContent = number(s.length) + ' m'
    row.insertCell().textContent = number(s.widest, 2) + ' m'
    const along = row.insertCell()
    along.className = 'along'
    along.textContent = s.along ? s.along : s.cause
    along.title = s.cause
    row.dataset.strip = String(n)
    return row
  }

  // listen hears for all rows at once: a click shows a strip, two or Enter go there, arrows go to the next.
  private listen(rows: HTMLElement): void {
    const of = (e: Event) => Number((e.target as HTMLElement).closest('tr')?.dataset.strip ?? 0)
    rows.addEventListener('click', e => { const n = of(e); if (n) this.onStrip(n, false) })
    rows.addEventListener('dblclick', e => { const n = of(e); if (n) this.onStrip(n, true) })
    rows.addEventListener('keydown', e => {
      const n = of(e)
      if (!n) return
      if (e.key === 'Enter') { e.preventDefault(); this.onStrip(n, true) }
      const to = e.key === 'ArrowDown' ? 1 : e.key === 'ArrowUp' ? -1 : 0
      const next = this.order[this.order.indexOf(n) + to]
      if (to && next) { e.preventDefault(); this.focus(next); this.onStrip(next, false) }
    })
  }

  focus(n: number): void { this.rows.get(n)?.querySelector('button')?.focus() }

  private addLine(rows: HTMLTableSectionElement): void {
    const tr = document.createElement('tr')
    tr.className = 'cut'
    const cell = tr.insertCell()
    cell.colSpan = 7
    const line = this.line = document.createElement('div')
    line.setAttribute('role', 'slider')
    line.tabIndex = 0
    line.setAttribute('aria-orientation', 'vertical')
    line.setAttribute('aria-label', w('how much is worked again'))
    line.setAttribute('aria-valuemin', '0')
    line.setAttribute('aria-valuemax', String(this.view.worth.length))
    cell.append(line)
    rows.append(tr)
    line.addEventListener('keydown', e => {
      const to = ({ ArrowDown: this.cut + 1, ArrowRight: this.cut + 1, ArrowUp: this.cut - 1, ArrowLeft: this.cut - 1, Home: 0, End: this.view.worth.length } as Record<string, number>)[e.key]
      if (to === undefined) return
      e.preventDefault()
      this.move(to)
      line.focus()
    })
    line.addEventListener('pointerdown', e => { line.setPointerCapture(e.pointerId); e.preventDefault(); line.focus() })
    line.addEventListener('pointermove', e => {
      if (!line.hasPointerCapture(e.pointerId)) return
      let to = 0
      this.ends.forEach((end, k) => {
        const r = this.rows.get(this.order[end - 1])!.getBoundingClientRect()
        if (e.clientY > r.top + r.height / 2) to = k + 1
      })
      if (to !== this.cut) this.move(to)
    })
  }

  private move(to: number): void {
    this.cut = Math.max(0, Math.min(this.view.worth.length, to))
    this.place()
    this.onCut(this.chosen())
  }

  // place puts the line where it belongs, and says what stands above it.
  private place(): void {
    const chosen = this.chosen()
    for (const [n, row] of this.rows) row.classList.toggle('left', this.view.worth.length > 0 && !chosen.has(n))
    if (!this.line) return
    const tr = this.line.closest('tr')!
    const after = this.cut > 0 ? this.rows.get(this.order[this.ends[this.cut - 1] - 1])! : null
    const rows = tr.parentElement!
    const focused = document.activeElement === this.line
    if (after) after.after(tr); else rows.prepend(tr)
    if (focused) this.line.focus()
    const step = this.view.worth[this.cut - 1]
    const words = step ? w('work %s of %s again: %s, %s', chosen.size, this.view.strips.length, minutes(step.time), area(step.area)) : w('work none again')
    this.line.textContent = words
    this.line.setAttribute('aria-valuenow', String(this.cut))
    this.line.setAttribute('aria-valuetext', words)
  }

  select(n: number, scroll: boolean): void {
    this.rows.get(this.selected)?.classList.remove('selected')
    this.rows.get(n)?.classList.add('selected')
    this.selected = n
    if (scroll) this.rows.get(n)?.scrollIntoView({ block: 'nearest' })
  }
}
