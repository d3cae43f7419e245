// Package isobus reads the logs of ISO 11783-10 task data: the header TLGnnnnn.XML,
// the records TLGnnnnn.BIN, and the device descriptions that say what their values are of.
//
// In: streams and decoded XML. Out: a geo.Track in degrees, metres and seconds, and
// notes. Which files there are, and what their tasks and fields are, geo/read knows.
package isobus
