// Package cli is the voice of balk: verbs, exit codes, what is said where.
//
// In: arguments. Out: results on stdout, everything else on stderr with "balk: "
// in front, and an exit code. Each verb is one thin file: flags, job, print.
package cli
