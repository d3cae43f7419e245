// Package drive takes the tracks of one operation to what the set did: the passes with every place of the bar, and
// between them turns, ways on the road, standing and gaps of the log.
//
// In: geo.Track in degrees, the field on its plane, Work (the implement and the limits). Out: Log, in metres on that
// plane, times in seconds since 1970 UTC. A Run is a pass with its bars; Along makes one of a line, without a log. What
// the bars do to the ground is found in coverage/ground.
package drive
