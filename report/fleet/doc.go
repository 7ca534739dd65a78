// Package fleet writes what is known of a fleet: one HTML page, and its rows as
// Parquet or CSV for other programs.
//
// It computes no figure of its own. Names, places and times pass through a
// Veil, which decides what others may see.
package fleet
