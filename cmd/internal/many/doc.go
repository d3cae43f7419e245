// Package many works batches on many machines, with a queue and results in one PostgreSQL with PostGIS.
//
// In: the Spec of a batch and its logs; workers, each with processes of its own. Out: rows in the database, read there by any program that
// reads PostGIS, or by Rows.
//
//	Enqueue ─→ bundles of logs ─ surveyed ─→ one that shares ─→ bundles of operations ─ worked ─→ results
//
// A bundle is a job of the queue (River): about 100 logs or operations, since one pass of the queue takes about 100 ms. Of each, what came of it
// is confirmed in a transaction of its own, together with the lease of the bundle; a bundle that is done again passes over what is there.
// An operation is done when its result is there under its key, the hash of its logs, its Spec and the version of balk (package batch): the
// queue forgets its jobs, the results do not.
//
// A worker renews a lease on each bundle it has. Whose lease ended has its bundle given to another, by whichever worker sees it first; if it
// comes back, what it wants to confirm is refused. The queue's own rescue (RescueStuckJobsAfter) is there for what has no lease yet, and comes
// only after the longest time that a bundle may take. After a turn the rest of a bundle goes back to the queue.
//
// A worker has operations worked by processes with limits of memory and time (package crew): one that takes more is a failed row with the
// reason, and the bundle goes on. Faults of the machinery (a store or database that does not answer) are tried again, with
// pauses that grow, 25 times at most; faults of the data are results.
//
// The tables stand in the schema balk, with those of the queue, whose names begin with river_:
//
//	form       version of the form of the tables below
//	batch      Spec, when it was put in, whether it is shared out, findings on its boundaries
//	bundle     of a batch: kind (survey, share, work), job of the queue, done
//	log        of a batch: the log, the bundle it is surveyed in, and what it was found to hold
//	survey     what a log was found to hold, by the hash of all that this depends on
//	operation  of a batch: key, bundle, the task
//	lease      of a job: worker, until when
//	result     by key and part: a row per operation on a field, as batch.Row; begun and ended UTC; areas in m², metres and seconds of work,
//	           litres; wear: how far each sweep of the set went in the ground, m (JSON, null where it is not known); fault with file and record where there are no figures; lost: what of the logs could not be used (JSON); took (s), worker
//	           and at, which differ from run to run; boundary of the field (MULTIPOLYGON, EPSG:4326, with an index by place)
//	strip      by key, part and number: a row per missed strip of a result, as batch.Strip, with its shape (MULTIPOLYGON, EPSG:4326, with an
//	           index by place)
//
// Older forms are brought forward by whichever process comes first, under a lock; a newer one is refused.
//
// Not done here: nothing is judged, no log is listed or opened.
package many
