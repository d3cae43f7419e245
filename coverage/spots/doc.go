// Package spots says what was seen on one's knees, and where to kneel: spot checks tied to the pass and the section of
// the bar that they belong to, their statistics with limits, and a draw of places for the next walk.
//
// In: spot checks (geo.SpotCheck), operations as they were checked (Operation: passes and ground in metres on the field's
// plane). Out: Found, what the checks prove and what stands against the map; Draw, places to kneel.
//
// Not done here: reading of records (geo/read), the walk between places (coverage/rework), words.
package spots
