// Where the top of this device points, as far as the browser says so.

// facing is where somebody looks who holds a device, degrees clockwise from north: along its top where it lies flat, along its back where
// it stands upright, both together between. The angles, in degrees, are those of the W3C's Device Orientation Event (first alpha about the
// vertical, then beta and gamma about the axes that have come of it): the device's y axis points to (−sin α cos β, cos α cos β), the back of
// its screen to −(sin α sin β cos γ + cos α sin γ, sin α sin γ − cos α sin β cos γ), each as (east, north).
export function facing(alpha: number, beta: number, gamma: number): number {
  const [a, b, c] = [alpha, beta, gamma].map(d => d * Math.PI / 180), [sa, ca, sb, cb, sg, cg] = [Math.sin(a), Math.cos(a), Math.sin(b), Math.cos(b), Math.sin(c), Math.cos(c)]
  const east = -sa * cb - (sa * sb * cg + ca * sg), north = ca * cb - (sa * sg - ca * sb * cg)
  return (Math.atan2(east, north) * 180 / Math.PI + 360) % 360
}

type Asking = { requestPermission?: () => Promise<string> }

export class Compass {
  heading = NaN // degrees clockwise from north; NaN = nobody says
  private listening = false
  constructor(private turned: () => void) {}

  // begin listens. Some browsers ask first, and only where somebody has just pressed something; false = nobody says how the device is turned.
  async begin(): Promise<boolean> {
    if (this.listening) return true
    const asking = (window as { DeviceOrientationEvent?: Asking }).DeviceOrientationEvent
    if (!asking) return false
    if (asking.requestPermission) {
      try { if (await asking.requestPermission() !== 'granted') return false } catch { return false } // nobody pressed anything
    }
    this.listening = true
    for (const name of ['deviceorientationabsolute', 'deviceorientation']) window.addEventListener(name, this.hear)
    return true
  }

  private hear = (event: Event): void => {
    const e = event as DeviceOrientationEvent & { webkitCompassHeading?: number }
    const own = e.webkitCompassHeading ?? (e.absolute && e.alpha !== null && e.beta !== null && e.gamma !== null ? facing(e.alpha, e.beta, e.gamma) : NaN)
    if (Number.isNaN(own) || own < 0) return // it says how it is turned, but not from where
    this.heading = (own + (screen.orientation?.angle ?? 0) + 360) % 360
    this.turned()
  }

  end(): void {
    for (const name of ['deviceorientationabsolute', 'deviceorientation']) window.removeEventListener(name, this.hear)
    this.listening = false
    this.heading = NaN
  }
}
