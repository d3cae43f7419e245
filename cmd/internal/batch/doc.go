// Package batch is the work of a season over many fields: which logs there are, which of them make up one operation, and what comes of
// each.
//
// In: a Source, which lists logs; a job.Spec, which says how all of them are checked; Rules, which say what a log was worked with. Out:
// Rows, one per operation, and Totals of them.
//
//	logs of a Source ─ Survey ─→ which fields, when ─ Share ─→ Tasks ─ Work ─→ Rows ─→ Report
//
// Every step is free of queue and database: a queue carries Logs and Tasks to any process that has the same Batch, and a store keeps what
// came of them. It has one set of Rows per Task, by its Key, which is a hash of all that the rows depend on: contents of logs and
// boundary, Spec, version of balk. A Task whose Key is there is not worked again, whoever asks.
//
// Not done here: nothing is queued, retried or written to a disk; nothing is judged (job does that).
package batch
