// Package queue runs a batch on one computer, with nothing installed: River hands out bundles of logs and tasks by a queue in a file, and a
// crew of processes works them (package crew), each under its limits.
//
// In: a batch.Spec. Out: its folder, with run/results.db (what logs hold, and what came of every task, each with its rows in one
// transaction), and at the end the tables and the report, all of them or none.
//
// What is done is what has rows. So a process may be killed at any time: the queue is built anew from what has none, nothing is lost and
// nothing is worked twice. One process works in a folder at a time: it holds a lock on run/lock.db, which the system takes back from a
// process that is gone. Whoever asked keeps stdin open; when it is closed, because that process was killed, the run ends in order.
//
// Not done here: logs are not read nor shared out, and no operation is judged (batch does that).
package queue
