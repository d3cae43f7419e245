package geo

// Kmh is how many km/h are 1 m/s. The factor stands here only.
const Kmh = 3.6

// KmPerHour is a speed as people give it and read it. Everywhere else speeds are m/s.
type KmPerHour float64

// KmPerHourOf is a speed in m/s as people read it.
func KmPerHourOf(metresPerSecond float64) KmPerHour { return KmPerHour(Kmh * metresPerSecond) }

// MetresPerSecond is the speed as the program reckons with it.
func (v KmPerHour) MetresPerSecond() float64 { return float64(v) / Kmh }
