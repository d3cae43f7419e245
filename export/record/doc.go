// Package record writes what was done on a field as a record of one operation: text
// for a folder of papers, in English or German, and JSON.
//
// In: coverage.Result, in metres and seconds, and what no log knows (who, with what,
// how much fuel). Out: text with hectares, hours and local time, or JSON in SI
// units and UTC. It judges nothing: the words are neutral.
package record
