// Where the numbers of strips stand on the map: beside their strips, none over another; where it is crowded a line leads to them.
import type { XY } from './ground'

export interface Named { words: string; at: XY; wide: number } // at: px on the screen
export interface Placed { of: number; at: XY; led: boolean } // at: middle of the words, px

type Box = [number, number, number, number]

const high = 15 // px, of a line of words
const beside = 3 // px, between words that stand beside each other

// ways are where words may stand, px from their strip, the nearest first. Those but the first few are led to by a line.
const ways: { by: XY; led: boolean }[] = [[14, -10], [14, 11], [-14, -10], [-14, 11]].map(([x, y]) => ({ by: [x, y] as XY, led: false }))
for (const far of [32, 50, 72, 100]) for (let k = 0; k < 12; k++) ways.push({ by: [far * Math.cos((k + 0.5) * Math.PI / 6), -far * Math.sin((k + 0.5) * Math.PI / 6)], led: true })

const apart = (a: Box, b: Box) => a[2] < b[0] || b[2] < a[0] || a[3] < b[1] || b[3] < a[1]

// crosses says whether a line runs through a box: it is cut at the sides, one after the other.
function crosses(a: XY, b: XY, box: Box): boolean {
  let from = 0, to = 1
  for (const k of [0, 1]) {
    const d = b[k] - a[k]
    if (d === 0) { if (a[k] < box[k] || a[k] > box[k + 2]) return false; continue }
    const p = (box[k] - a[k]) / d, q = (box[k + 2] - a[k]) / d
    from = Math.max(from, Math.min(p, q)); to = Math.min(to, Math.max(p, q))
  }
  return from <= to
}

// placed finds a place for each, the first ones first, on a screen of this size; one that finds none is left out, and its strip has its mark alone.
export function placed(all: Named[], size: XY): Placed[] {
  const out: Placed[] = [], boxes: Box[] = [], lines: [XY, XY][] = []
  all.forEach((n, of) => {
    for (const { by, led } of ways) {
      const x = n.at[0] + by[0] + Math.sign(by[0]) * n.wide / 2, y = n.at[1] + by[1]
      const box: Box = [x - n.wide / 2 - beside, y - high / 2, x + n.wide / 2 + beside, y + high / 2]
      if (box[0] < 0 || box[1] < 0 || box[2] > size[0] || box[3] > size[1]) continue
      const line: [XY, XY] = [n.at, [x, y]]
      if (!boxes.every(b => apart(b, box)) || lines.some(l => crosses(...l, box)) || led && boxes.some(b => crosses(...line, b))) continue
      boxes.push(box)
      if (led) lines.push(line)
      out.push({ of, at: [x, y], led })
      return
    }
  })
  return out
}
