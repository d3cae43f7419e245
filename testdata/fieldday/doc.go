// Package fieldday drives a set over a field of which everything is known, so that what balk says of the log can be held
// against what happened. Only tests import it, and the count that .ci/long makes.
//
// In: a Situation (how the set drives, what its receiver errs by, what its file says wrongly) and a seed. Out: the ground
// under the true bar, the log, and an Outcome: what coverage.Check says of that log, beside the truth.
//
// The truth is worked out by another engine than that of geo/plane: Scan lays lines over the field, askew to every pass,
// and knows on each where ground was worked. Metres are those of Paper; times are seconds.
//
// Not simulated: slopes, wheels that slip, a frame that gives way, sections that are switched one by one.
package fieldday
