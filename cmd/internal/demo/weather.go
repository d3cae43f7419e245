package demo

import (
	"bytes"
	"fmt"
	"math"
	"time"
)

// weather is the log of the farm's station, hour by hour over the fortnight about the operations: days of April between
// 3 and 15 °C, a wet evening two days before, and a shower the day after. All of it is invented.
func weather() []byte {
	var b bytes.Buffer
	b.WriteString("time,temp_C,humidity_%,wind_m_s,radiation_W/m2,rain_mm\n")
	from := start.Truncate(24*time.Hour).AddDate(0, 0, -4)
	rain := map[int]float64{2*24 + 18: 1.6, 2*24 + 19: 2.2, 2*24 + 20: 0.2, 5*24 + 15: 3.8, 5*24 + 16: 0.6}
	for h := range 14 * 24 {
		day := -math.Cos(float64(h-3) / 24 * 2 * math.Pi) // coldest at three in the morning
		sun := max(0, math.Sin(float64(h%24-5)/14*math.Pi))
		if h%24 < 5 || h%24 > 19 {
			sun = 0
		}
		clouds := 1.0
		if rain[h] > 0 {
			clouds = 0.2
		}
		fmt.Fprintf(&b, "%s,%.1f,%.0f,%.1f,%.0f,%.1f\n", stamp(from.Add(time.Duration(h+1)*time.Hour)), 9+6*day, 70-22*day+10*(1-clouds), 1.8+0.9*day, 640*sun*clouds, rain[h])
	}
	return b.Bytes()
}
