// Package motion estimates how an antenna moved from what its receiver logged.
//
// In: places on the plane in metres, times in seconds. Out: the same places without the
// white noise of the receiver, the velocity at each, and how far both may be off. The
// estimate leans on one thing only: a heavy machine does not change its acceleration at
// once. An error that changes slowly looks like driving and stays in the places; it
// belongs to the pass-to-pass error of the receiver.
//
// It knows neither bar nor field, and decides nothing: whether a log is so noisy that the
// estimate should stand in for it is up to the caller.
package motion
