// Package job is one field from files to result: the only place where reading,
// coverage and export meet.
//
// In: a Spec, which is the same struct for flags, page and queue. Out: a Report
// and, if asked for, a folder of files. It prints nothing.
package job
