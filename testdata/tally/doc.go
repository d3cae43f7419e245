// Package tally keeps what long counts have found in a file, so that a count that was stopped goes on where it was. Only the counts of .ci
// import it.
//
// In: outcomes of any kind. Out: a file with a JSON object a line, each with a hash of the code that it stands on.
package tally
