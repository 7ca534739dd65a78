// Package fleetrun takes a fleet's logs from folders to a store: it finds them,
// finds out whose they are, reviews what is new, and stores the rows.
//
// One bad log never stops a run. A run may be stopped or killed at any moment;
// the next one goes on where it ended. Several runs may share a store.
package fleetrun
