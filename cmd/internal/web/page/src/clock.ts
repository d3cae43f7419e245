// Times as people at the field read them: in the zone that the call names, or else in that of this device.
import { lang, w } from './words'

let zone: string | undefined

// tellIn has times told in a zone of the IANA's list; '' or Local: that of this device.
export function tellIn(name: string): void { zone = name && name !== 'Local' ? name : undefined }

// zoneName is the name of the zone, for a flag.
export function zoneName(): string { return zone ?? new Intl.DateTimeFormat().resolvedOptions().timeZone }

// hands is an instant as the clocks of the zone show it, ms as if these were UTC.
function hands(ms: number): number {
  const part: Record<string, number> = {}
  for (const { type, value } of new Intl.DateTimeFormat('en', { timeZone: zone, hourCycle: 'h23', year: 'numeric', month: 'numeric', day: 'numeric', hour: 'numeric', minute: 'numeric', second: 'numeric' }).formatToParts(ms)) part[type] = Number(value)
  return Date.UTC(part.year, part.month - 1, part.day, part.hour, part.minute, part.second)
}

const shown = (ms: number) => new Date(hands(ms)).toISOString()

// zoned is the short name of the zone at an instant.
function zoned(ms: number): string {
  const name = new Intl.DateTimeFormat('en-GB', { timeZone: zone, timeZoneName: 'short' }).formatToParts(ms).find(p => p.type === 'timeZoneName')?.value ?? ''
  return name === 'CET' || name === 'CEST' ? w(name) : name
}

// clock is a time of day of a log, s, or so many fixes where it has none.
export function clock(begin: number, seconds: number): string {
  return begin ? shown(1000 * (begin + seconds)).slice(11, 19) : '#' + Math.round(seconds + 1)
}

// day is the date of an instant, ms.
export function day(ms: number): string {
  const iso = shown(ms).slice(0, 10)
  return lang === 'de' ? iso.split('-').reverse().join('.') : iso
}

// minute is an instant, ms, to the minute.
export function minute(ms: number): string { return `${day(ms)} ${shown(ms).slice(11, 16)}` }

// span is from when to when, with the zone; the second date only where it is another.
export function span(from: number, to: number): string {
  return `${minute(from)} – ${day(from) === day(to) ? shown(to).slice(11, 16) : minute(to)} ${zoned(to)}`
}

// instant is when the clocks of the zone show a time of day, hh:mm or hh:mm:ss, on the day of another instant, ms; NaN: no such text.
export function instant(on: number, text: string): number {
  const want = Date.parse(`${shown(on).slice(0, 10)}T${text.length === 5 ? text + ':00' : text}Z`)
  if (Number.isNaN(want)) return NaN
  let at = want
  for (let k = 0; k < 2; k++) at += want - hands(at) // twice: the clocks may be put forward between
  return at
}
