// Package counter is the local page that a shop opens at its counter: drop
// logs, pick a bike, get the report and the coach sheet.
//
// It listens on this machine only and sends nothing anywhere. Other web sites
// open in the same browser cannot drive it: requests must carry its own Host
// and, where a browser sends one, its own Origin. Addresses hold no secrets.
// Anyone with an account on the same machine can open the page; what is
// dropped there is gone when its job is removed or the server ends, unless
// keeping was asked for.
//
// The package knows nothing of rides: what a job does is the Work function.
package counter
