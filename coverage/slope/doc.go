// Package slope says how the ground lies, by the heights of a log.
//
// In: places on the field's plane with the height of the antenna, m, a line each for what was logged in one go. Out: a surface of local planes
// through all of them together, weighted by the quality of the fixes; how the ground rises at a place, m per m, with its standard error; by how much
// the surface is off the heights of a line that had no part in it. Only differences of height count: the antenna stands as high everywhere. Ditches,
// ridges and whatever bends within some metres are not seen, nor is a set that leans.
package slope
