// What the server tells. The types are those of its description, /api/openapi.json.
import { w } from './words'

export interface Listed { id: string; field?: string; days?: string }
export interface Source {
  id: string; files: string[]; kept: boolean; what?: string; done: number; of: number; over: boolean; error?: string; operations: Listed[]
}
export interface Row { Words: string; Ha: string; Share: string }
export interface Strip {
  number: number; area: number; length: number; widest: number; cause: string; surety: string; sure: boolean; along: string
  passes: number[]; headland: boolean; at: [number, number]; xy: [number, number]
}
export interface Step { strips: number[]; area: number; time: number }
export interface Mount { trailed?: boolean; antennaAhead?: number; antennaRight?: number; hitch?: number; drawbar?: number; barBehind?: number; barRight?: number }
export interface Settings {
  width: number; overlap: number; rounds: number; headland: number; passError: number; frame: string; mount: Mount
  tractor: { ahead?: number; behind?: number; width?: number }; body: { ahead?: number; behind?: number; width?: number }; radius: number; file: string
}
export interface View {
  id: string; field: string; set: string; wide: string; from?: string; to?: string; zone: string; settle: string[]; answer: string[]; holds: string[]; telling: string; table: Row[]
  balance: { field: number; missed: number; unknown: number; once: number; twice: number; more: number; outside: number }
  strips: Strip[]; worth: Step[]; knee: number; weather?: string; again: string; remarks: string[]; command: string; settings: Settings
}

// Refused is an error in the words of the command line.
export class Refused extends Error {}

// whole is what a page that stands in one file has in it, in place of a server: answers by their path.
export interface Whole { lang: string; words: Record<string, string>; view: View; ground: string }
const text = document.getElementById('whole-data')?.textContent
export const whole: Whole | undefined = text ? JSON.parse(text) : undefined

// asked is what the server answers; its refusal, or that it does not answer, is an error in words.
async function asked(path: string, how: RequestInit = {}): Promise<Response> {
  const answer = await fetch(path, how).catch(e => { throw e instanceof TypeError ? new Refused(w('balk serve does not answer')) : e })
  if (answer.ok) return answer
  let text = answer.status + ' ' + answer.statusText
  try { text = (await answer.json()).error || text } catch { /* no words came with it */ }
  throw new Refused(text)
}

export async function get<T>(path: string, signal?: AbortSignal): Promise<T> {
  return (await asked(path, { signal })).json()
}

export async function numbers(path: string, signal?: AbortSignal): Promise<ArrayBuffer> {
  return (await asked(path, { signal })).arrayBuffer()
}

// post sends a value, or nothing, and takes the answer.
export async function post<T>(path: string, value?: unknown): Promise<T> {
  return (await asked(path, { method: 'POST', body: value === undefined ? undefined : JSON.stringify(value) })).json()
}

export async function remove(path: string): Promise<void> {
  await asked(path, { method: 'DELETE' })
}

export interface Correction { number: number; kind: string; place: [number, number][]; holes?: [number, number][][]; begin?: string; end?: string; who: string; made: string; why: string }

export function correct(id: string, c: Omit<Correction, 'number' | 'made'>): Promise<Correction> {
  return post(`/api/operations/${encodeURIComponent(id)}/corrections?lang=${document.documentElement.lang}`, c)
}

// send puts files on the page. A request of this kind alone tells how much of it has gone.
export function send(files: { name: string; file: File }[], flags: Record<string, string>, told: (part: number) => void, signal: AbortSignal): Promise<Source> {
  return new Promise((done, failed) => {
    const form = new FormData()
    for (const [name, value] of Object.entries(flags)) if (value !== '') form.append(name, value)
    for (const f of files) form.append('file', f.file, f.name)
    const request = new XMLHttpRequest()
    request.open('POST', '/api/sources?lang=' + document.documentElement.lang)
    request.responseType = 'json'
    request.upload.onprogress = e => { if (e.lengthComputable) told(e.loaded / e.total) }
    request.onload = () => request.status === 200 ? done(request.response) : failed(new Refused(request.response?.error || request.status + ' ' + request.statusText))
    request.onerror = () => failed(new Refused(w('balk serve does not answer')))
    request.onabort = () => failed(new DOMException('stopped', 'AbortError'))
    signal.addEventListener('abort', () => request.abort())
    request.send(form)
  })
}

// follow hears how far a source is, until it is over.
export function follow(id: string, lang: string, told: (s: Source) => void, signal: AbortSignal): Promise<Source> {
  return new Promise((done, failed) => {
    const events = new EventSource(`/api/sources/${encodeURIComponent(id)}/events?lang=${lang}`)
    const end = () => { events.close() }
    signal.addEventListener('abort', () => { end(); failed(new DOMException('stopped', 'AbortError')) })
    events.onmessage = e => {
      const s: Source = JSON.parse(e.data)
      told(s)
      if (!s.over) return
      end()
      if (s.error) failed(new Refused(s.error)); else done(s)
    }
    events.onerror = () => { if (events.readyState === EventSource.CLOSED) { end(); failed(new Refused(w('balk serve does not answer'))) } }
  })
}
