// Package figures rounds areas for people. Whatever is read by them, on terminal, sheet, map and record, has its
// figures from here, from values that nobody has rounded before: the same area is the same digits everywhere.
//
// In: m². Out: hectares with four digits, per cent with two. Decimal commas and the words beside the figures are not
// its matter.
package figures
