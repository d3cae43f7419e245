// Package folder puts a result into a folder: all of it or nothing, whatever happens on the way, and
// nothing that is not balk's own is touched.
//
// In: the files of a result, each with the code that writes it, and a report that lists them. Out: the
// folder with that result, and without what an earlier run of the same verb left there.
//
// How a folder is filled, on every system alike:
//
//  1. .balk-lock is made, which must not be there yet. It holds host, process and start.
//  2. All files are written into .balk-ID/new and brought to the disk.
//  3. The journal, which says what goes where, is renamed to its final name: from here on the new
//     result counts.
//  4. File by file the old one goes to .balk-ID/old and the new one to its place; what the old report
//     lists and the new one does not goes to .balk-ID/old too.
//  5. The journal is removed, then .balk-ID, then the lock.
//
// A call that is cut off before step 3 leaves the old result, one that is cut off later the new one: whoever
// reads or fills the folder next (Settle) removes the first and finishes the second. Where a file cannot be
// put in its place, those already there are taken back.
//
// What is balk's own: the files that report.json lists, as long as their size and SHA-256 are those of the
// list, and report.json itself, whose seal is the SHA-256 of its text with a seal of zeros. All else is
// somebody's: a file of another, or one of ours that was changed. It is never moved, and never opened unless
// it has both name and size of ours; where a result needs its place, the folder is refused.
//
// Not done here: nothing is said to people, but by the function that is given for it, and what a result
// is made of is not known.
package folder
