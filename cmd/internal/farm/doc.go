// Package farm keeps a farm in one folder, over the years: its fields, sets, operations with their logs and what came of them,
// corrections and spot checks.
//
// In: what a checked operation is, and the files of its logs. Out: the same again, in the order of time; or all of it as plain files.
//
// The folder holds farm.gpkg, a GeoPackage 1.2 (OGC 12-128r14) that a general geographic information system opens and edits, and
// logs/, the originals of the logs, each named by the SHA-256 of its content. Only this package writes them.
//
//	farm           version of the form
//	field          name, official number, frame of its boundary, boundary (MULTIPOLYGON, degrees on WGS84)
//	implement_set  name, the description as TOML
//	operation      field, set, begin and end (UTC), what it does (components with a comma), depth set and aimed at (cm), crop before
//	               and after, soil, driver, client, options it was checked with (JSON), program and version of the report's form, and
//	               what came of it in short: m² of the field, worked, twice or more, missed, unknown; m and s of work; litres
//	result         of an operation: its report (JSON)
//	operation_log  which logs an operation has, in which order
//	log            SHA-256, name it came under, extension, bytes
//	correction     of a field, or one operation on it: kind, place, from, to, who, when, why
//	spot           of a field: place, time, operation or none, the record (JSON)
//	removed        what was taken out: kind, its number, when, all of its rows (JSON)
//	season         of a field: what was worked out across its operations, and of what; may be thrown away at any time
//
// The form has a version, 1: it stands in the table farm, since user_version belongs to the GeoPackage standard, and programs warn of
// extensions that they do not know. An older form is brought forward when the farm is opened for writing, after a copy of the file was put
// beside it; a newer one is refused.
//
// Every change is one transaction that begins by taking the file for itself, so that two processes take turns, and a process that is
// killed leaves what was confirmed before and nothing else: the journal of SQLite sees to that. The original of a log is on the disk,
// brought there by fsync, before the operation that needs it is confirmed.
//
// Not done here: nothing is checked or worked out, and no file of the user's is opened but those that are handed in to be kept.
package farm
