// Package season lays the operations of a season over one field: what all of them together missed, how often the ground was worked, what one did
// and another did not, and how long ago each place was cut.
//
// In: the field, and Operation: passes on the field's plane as drive.Read gives them, what they do to the ground, and when. Out: Result, areas
// in m² that add up to the field. All of them come from one arrangement (ground.LayTogether), which is asked many times. It knows no files, and
// nothing of weather: see coverage/drying.
package season
