package plan

import (
	"balk/geo"
	"cmp"
)

// Fuel says what the work burns: the user's own litres per hour, or else the
// draught after ASABE D497. The zero value: not known.
type Fuel struct {
	Hour    float64 `json:"hour,omitempty"`    // l/h while working; wins over Draught
	Turning float64 `json:"turning,omitempty"` // l/h while turning and on runs; 0 = the share usualTurning of what working burns
	Draught Draught `json:"draught,omitzero"`
}

// Draught is the pull of a tool after ASABE D497:
//
//	D = F·(A + B·S + C·S²)·W·T
//
// in N, with the speed S in km/h, the depth T in cm and W the working width in m,
// or the number of tools where A, B and C are those of one tool. Sweep plough, primary:
// A 390, B 19, C 0 per m (D497, as found in an open simulation library); F 1.00, 0.85, 0.65 for fine,
// medium and coarse soil (D497, from memory).
type Draught struct {
	Soil  float64 `json:"soil,omitempty"`  // F
	A     float64 `json:"a,omitempty"`     // N per cm and m, or tool
	B     float64 `json:"b,omitempty"`     // the same, per km/h
	C     float64 `json:"c,omitempty"`     // the same, per (km/h)²
	Tools float64 `json:"tools,omitempty"` // how many; 0 = per m of working width
	Depth float64 `json:"depth,omitempty"` // cm
	// Traction is drawbar power by power take-off power; 0 = usualTraction.
	Traction float64 `json:"traction,omitempty"`
}

const (
	// usualTraction: drawbar power by power take-off power on tilled ground (D497, from memory).
	usualTraction = 0.73
	// litresPerKWh of power take-off work (D497.7, from memory).
	litresPerKWh = 0.223
	// usualTurning: what a set burns while turning with the tool lifted, as a share of what it burns
	// working (common practice, no source).
	usualTurning = 0.5
	mostFuel     = 1e3 // l/h
	mostDraught  = 1e5 // of soil factors, draughts per cm, tools and depths
)

// Validate says what is wrong with f.
func (f Fuel) Validate() error {
	d := f.Draught
	return validate(amount{"fuel, l/h working", f.Hour, mostFuel}, amount{"fuel, l/h turning", f.Turning, mostFuel},
		amount{"draught, soil factor", d.Soil, mostDraught}, amount{"draught, A", d.A, mostDraught}, amount{"draught, B", d.B, mostDraught}, amount{"draught, C", d.C, mostDraught},
		amount{"draught, tools", d.Tools, mostDraught}, amount{"draught, depth in cm", d.Depth, mostDraught}, amount{"draught, traction", d.Traction, 1})
}

// Force is the pull in N at a speed and a working width in m.
func (d Draught) Force(speed geo.KmPerHour, width float64) float64 {
	if d.Tools > 0 {
		width = d.Tools
	}
	v := float64(speed)
	return d.Soil * (d.A + d.B*v + d.C*v*v) * width * d.Depth
}

// Basis is what an estimate takes of its own where f does not say: drawbar power by power take-off power, litres per kWh of power take-off
// work, and what turning burns as a share of what working does. What f says itself is 0.
func (f Fuel) Basis() (traction, litres, turning float64) {
	if f.Hour == 0 && f.Draught != (Draught{}) {
		litres = litresPerKWh
		if f.Draught.Traction == 0 {
			traction = usualTraction
		}
	}
	if f.Turning == 0 && (f.Hour > 0 || litres > 0) {
		turning = usualTurning
	}
	return traction, litres, turning
}

// burns is the drawbar power in kW and the l/h while working and while turning.
func (f Fuel) burns(speed geo.KmPerHour, width float64) (power, working, turning float64) {
	power = f.Draught.Force(speed, width) * speed.MetresPerSecond() / 1000
	working = power / cmp.Or(f.Draught.Traction, usualTraction) * litresPerKWh
	if f.Hour > 0 {
		working = f.Hour
	}
	return power, working, cmp.Or(f.Turning, usualTurning*working)
}
