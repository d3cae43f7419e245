// What if: controls whose values are flags of the command, and what changes by them.
import type { Settings, View } from './api'
import { area, number, w } from './words'

// A control is a number, or a choice among values of a flag with what they are called; '' is not given.
interface Control { flag: string; label: string; value: (s: Settings) => number | string; mount?: string; step?: string; choice?: [string, string][] }

const controls: Control[] = [
  { flag: 'width', label: 'working width, m', value: s => s.width, step: '0.1' },
  { flag: 'overlap', label: 'overlap, m', value: s => s.overlap, step: '0.01' },
  { flag: 'rounds', label: 'headland rounds', value: s => s.rounds, step: '1' },
  { flag: 'pass-error', label: 'pass-to-pass error, m', value: s => s.passError, step: '0.01' },
  { flag: 'frame', label: 'the log is in the frame of', value: s => s.frame, choice: [['', 'one or the other'], ['maps', 'the maps'], ['satellites', 'the satellites']] },
  { flag: 'mount', mount: 'hitch', label: 'antenna to hitch, m', value: s => s.mount.hitch ?? 0, step: '0.05' },
  { flag: 'mount', mount: 'antennaRight', label: 'antenna right of middle, m', value: s => s.mount.antennaRight ?? 0, step: '0.05' },
  { flag: 'mount', mount: 'drawbar', label: 'drawbar, m', value: s => s.mount.drawbar ?? 0, step: '0.1' },
  { flag: 'mount', mount: 'barBehind', label: 'bar behind, m', value: s => s.mount.barBehind ?? 0, step: '0.05' },
  { flag: 'mount', mount: 'barRight', label: 'bar right of middle, m', value: s => s.mount.barRight ?? 0, step: '0.01' },
]

const ofLog = ['rounds', 'pass-error', 'frame'] // of field and log, not of the set

function numeric(step: string): HTMLInputElement {
  const input = document.createElement('input')
  input.type = 'number'
  input.step = step
  input.lang = document.documentElement.lang
  return input
}

function chooser(choice: [string, string][]): HTMLSelectElement {
  const select = document.createElement('select')
  for (const [value, name] of choice) select.add(new Option(w(name), value))
  return select
}

export class Suppose {
  private inputs: { of: Control; input: HTMLInputElement | HTMLSelectElement; was: string }[] = []
  onChange: (flags: URLSearchParams) => void = () => {}
  onUse: (flags: URLSearchParams) => void = () => {}
  private use?: HTMLButtonElement // writes it into the file of the set

  constructor(form: HTMLElement, settings: Settings, from: URLSearchParams) {
    form.replaceChildren()
    for (const c of controls) {
      if (c.mount === 'drawbar' && !settings.mount.trailed) continue
      const label = document.createElement('label')
      const words = document.createElement('span')
      words.textContent = w(c.label)
      const input = c.choice ? chooser(c.choice) : numeric(c.step ?? 'any')
      input.name = c.mount ?? c.flag
      const set = c.value(settings)
      const was = typeof set === 'string' ? set : c.flag === 'pass-error' && !set ? '' : String(+set.toFixed(4))
      input.value = c.mount ? from.getAll('mount').find(v => v.startsWith(c.mount + '='))?.split('=')[1] ?? was : from.get(c.flag) ?? was
      if (c.flag === 'pass-error' && !was && input instanceof HTMLInputElement) input.placeholder = w('from the log')
      label.append(words, input)
      form.append(label)
      this.inputs.push({ of: c, input, was })
      input.addEventListener('input', () => { if (input.validity.valid) { this.fit(); this.onChange(this.flags()) } })
    }
    form.onsubmit = e => e.preventDefault()
    const back = document.createElement('button')
    back.type = 'button'
    back.textContent = w('As driven')
    back.onclick = () => { for (const i of this.inputs) i.input.value = i.was; this.fit(); this.onChange(this.flags()) }
    form.append(back)
    if (!settings.file) return
    const use = this.use = document.createElement('button')
    use.type = 'button'
    use.className = 'served'
    use.textContent = w('Write this into %s', settings.file)
    use.onclick = () => this.onUse(this.flags())
    form.append(use)
    this.fit()
  }

  // fit lets only what a set has be written into its file.
  private fit(): void {
    const all = [...this.flags().keys()]
    if (this.use) this.use.disabled = !all.length || all.some(f => ofLog.includes(f))
  }

  // flags are those that are supposed otherwise.
  flags(): URLSearchParams {
    const out = new URLSearchParams()
    for (const { of, input, was } of this.inputs) {
      if (input.value === was || input.value === '' && !of.choice) continue
      out.append(of.flag, of.mount ? of.mount + '=' + input.value : input.value)
    }
    return out
  }
}

// changes says in one line what is different.
export function changes(a: View, b: View): string {
  const rows: [string, number, number][] = [
    ['missed', a.balance.missed, b.balance.missed],
    ['worked twice or more', a.balance.twice + a.balance.more, b.balance.twice + b.balance.more],
    ['worked outside', a.balance.outside, b.balance.outside],
  ]
  const sign = (v: number) => (v < 0 ? '−' : '+') + area(Math.abs(v))
  return rows.map(([name, from, to]) => `${w(name)}: ${area(from)} → ${area(to)} (${sign(to - from)})`).join(' · ') + ` · ${w('strips')}: ${number(a.strips.length)} → ${number(b.strips.length)}`
}
