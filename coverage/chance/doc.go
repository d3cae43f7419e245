// Package chance is the functions of chance that judgements and limits need: Student's t, the beta, binomial and χ² distributions, and quantiles of
// these.
//
// In: values, degrees of freedom, chances from 0 to 1. Out: chances, or quantiles. What is known of a field, and which chance is small enough, is
// known elsewhere.
package chance
