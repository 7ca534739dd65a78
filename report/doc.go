// Package report turns the results of an analysis into things to read: one
// HTML file that needs no network, a JSON document with a published schema,
// comma-separated tables and a summary for the terminal.
//
// Its figures are those of analysis.Result. Of its own it only shapes them for
// the eye: charts are thinned, keeping extremes, and the tables behind charts
// hold means over a few minutes.
// Text from logs and profiles is data and is escaped wherever it goes.
package report

import "time"

// Options are the reader's wishes. The zero value is a report in metric units
// that names everything.
type Options struct {
	Title    string    // heading of the page; taken from the bike and the ride when empty
	Imperial bool      // miles, feet and °F for the reader; JSON and CSV stay SI
	Privacy  bool      // drop the first and last 500 m, absolute times and file names
	Now      time.Time // when the report was made; left out when zero
	Colour   bool      // the summary may use colour: it goes to a terminal whose user has not refused
}
