// Package tables reads and writes a network as a folder of tables: CSV files
// as a spreadsheet, an asset register or a cable schedule gives them.
//
// Read makes the text of a study of them. It reads that study as any other,
// so that what is a mistake in a study is one in a table, and tells every
// mistake by the row and column of the cell that it comes from. Write makes
// tables of a study and lists what tables don't hold.
//
// Columns are the keys of the study that hold one value, and have their
// names; they follow the types of package study. Quantities stay as typed:
// nothing is converted here, and what is written is what was read.
//
// Cables in parallel become as many lines as there are runs. Each has the
// data of its type as they stand, so no value in the study is worked out, and
// a fault in one run is fed through the others, as it is. The coupling of
// the runs through earth is left out, as between any two lines.
package tables
