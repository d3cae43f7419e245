// What the page says, in the language chosen: the words come from the server, which has one list for paper, terminal and page.
import { get, whole } from './api'

let table: Record<string, string> = {}
export let lang = 'en'

export async function speak(to: string): Promise<void> {
  table = whole?.words ?? await get(`/api/words?lang=${to}`)
  lang = to
  document.documentElement.lang = to
}

// w is an English word or sentence in the language, with values where %s stands.
export function w(english: string, ...values: (string | number)[]): string {
  let k = 0
  return (table[english] ?? english).replace(/%s/g, () => String(values[k++]))
}

const formats = new Map<string, Intl.NumberFormat>() // making one takes as long as a thousand numbers

// number is one with so many decimals.
export function number(v: number, decimals = 0): string {
  let format = formats.get(lang + decimals)
  if (!format) formats.set(lang + decimals, format = new Intl.NumberFormat(lang, { minimumFractionDigits: decimals, maximumFractionDigits: decimals }))
  return format.format(v)
}

// area is ground in m², rounded as people say it.
export function area(m2: number): string {
  if (m2 >= 10000) return number(m2 / 10000, 2) + ' ha'
  return number(m2, m2 < 10 ? 1 : 0) + ' m²'
}

export function minutes(seconds: number): string {
  return number(Math.max(1, Math.round(seconds / 60))) + ' min'
}
