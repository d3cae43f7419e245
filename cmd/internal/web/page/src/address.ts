// What all parts of the page use: its elements by name, and its address.
export function el<T extends HTMLElement = HTMLElement>(id: string): T { return document.getElementById(id) as T }

// address is what the address holds, so that a view can be marked or sent.
export const address = new URLSearchParams(location.hash.slice(1))
export function keep(): void { history.replaceState(null, '', '#' + address.toString()) }
export function note(name: string, value: string | null): void {
  if (value === null || value === '') address.delete(name); else address.set(name, value)
  keep()
}

