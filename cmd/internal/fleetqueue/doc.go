// Package fleetqueue lets any number of machines work on one fleet: logs lie in
// a bucket, their names wait in a queue in PostgreSQL, workers take them from
// it and put the results into the store in the same database.
//
// The queue is River's, the buckets are gocloud's; what is ours is only which
// logs are put into the queue and what is done with one.
//
// A log may be done twice, when a worker dies or a connection breaks after the
// result was stored; the store keeps one result for one content, so that this
// shows nowhere.
package fleetqueue
