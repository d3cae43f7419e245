// Package words has what people read in their language: one translator for all of export and the terminal (the English text is the
// key, and a test looks for German that is missing or never asked for), one set of cautions, what a log
// leaves open in sentences, and one form of numbers and times.
//
// In: English words and formats. Out: the same in a Language.
package words
