// Package crew is processes that work the logs and operations of batches, one at a time each, under limits of memory and time: so one that
// takes all memory, never ends or fells its process stops no other, and it is known which it was.
//
// In: a Spec as JSON, and logs and tasks of package batch. Out: surveys and rows, which whoever has the crew keeps.
//
// The log or operation that a process dies of is tried once more alone in a new process. If that dies too, it has failed, with the reason.
// No halving is needed to find it: it is the one that was not answered. What goes to a process and comes back are lines of JSON. A process
// ends when its stdin is closed: whoever started it has ended, or needs it no more.
//
// Not done here: nothing is queued or kept; nothing is judged (batch does that).
package crew
