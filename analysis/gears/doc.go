// Package gears tells which gear was in use in every second of a ride, and
// learns the gears of a bike that has no profile yet.
//
// Development, the metres travelled a turn of the crank, names a gear only
// while the crank drives the wheel, and then with noise. A hidden Markov chain
// over (gear, driving or slipping) weighs each second against those about it:
//
//   - Log development is spread about log(circumference x ratio) by Student's t
//     with five degrees of freedom. Its width is the ride's own: a constant part,
//     a part that grows when slow, one that grows while speed changes, and the
//     rounding of cadence. Deviations last; a second counts against the
//     deviation of the second before it, so that a minute of one wandering error
//     is not taken for sixty witnesses.
//   - A slipping crank turns slower than its gear would turn it, never faster,
//     and changes its pace little from one second to the next. How much likelier
//     it makes little power of the rider is counted in the ride; a motor that
//     pushes speaks against it.
//   - Neighbouring gears follow each other more often than far ones, and the ring
//     seldom changes; how often is counted in the ride too.
//   - Speed trails cadence by a lag that is where their changes agree best.
//   - A motor that drives the chainring tells its speed; chainring and motor are
//     coupled by a one-way clutch, so the faster of crank and motor counts.
//   - Coasting, standing and gaps say nothing, and the gear held fades.
//
// Circumference, noise, lag, slip and rates are fitted by expectation and
// maximisation on at most 4000 seconds of the ride. The gear is named where its
// probability is high enough that the named seconds together are expected to be
// right 99.2 times in 100; below that it is Unknown, never a guess.
//
// Cost is in proportion to seconds times gears, well under a microsecond a
// second on 22 gears. Memory, besides what is returned, is 27 bytes a second and
// a fixed 400 kilobytes.
//
// How well it does on rides whose bikes recorded their gear is printed by
//
//	COGLEDGER_RIDES=DIR go test ./analysis/gears -run Agreement -v
//
// and on made rides, with the reliability curve, by
//
//	go test ./analysis/gears -run MadeRides -v
package gears
