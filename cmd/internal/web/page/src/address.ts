// What all parts of the page use: its elements by name, and its address.
export function el<T extends HTMLElement = HTMLElement>(id: string): T { return document.getElementById(id) as T }

// address is what the address holds, so that a view can be marked or sent.
export const address = new URLSearchParams(location.hash.slice(1))
let kept = 0
// keep writes the address: at once, or a little later where it was written just now, as browsers refuse to be asked that often.
export function keep(): void {
  if (kept) return
  const write = () => history.replaceState(null, '', '#' + address.toString())
  write()
  kept = window.setTimeout(() => { kept = 0; write() }, 300)
}
export function note(name: string, value: string | null): void {
  if (value === null || value === '') address.delete(name); else address.set(name, value)
  keep()
}

