// What all parts of the page use: its elements by name, and its address.
export function el<T extends HTMLElement = HTMLElement>(id: string): T { return document.getElementById(id) as T }

// call shows a command so that no flag is broken at the end of a line.
export function call(e: HTMLElement, command: string): void {
  e.replaceChildren(...command.split(' ').flatMap((word, k) => { const s = document.createElement('span'); s.textContent = word; return k ? [' ', s] : [s] }))
}

// address is what the address holds, so that a view can be marked or sent.
export const address = new URLSearchParams(location.hash.slice(1))
let waiting = 0, lately = 0
// keep writes the address: at once, so that a page read again is as it was; a little later where it was written 25 times within ten
// seconds, as browsers refuse to be asked more often than 200 times in thirty.
export function keep(): void {
  if (waiting) return
  const write = () => history.replaceState(null, '', '#' + address.toString())
  if (lately < 25) {
    lately++
    window.setTimeout(() => { lately-- }, 10_000)
    write()
    return
  }
  waiting = window.setTimeout(() => { waiting = 0; write() }, 300)
}
export function note(name: string, value: string | null): void {
  if (value === null || value === '') address.delete(name); else address.set(name, value)
  keep()
}

