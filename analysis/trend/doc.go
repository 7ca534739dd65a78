// Package trend compares rides with rides: this week with the weeks before, a
// new owner's rides before and after a lesson.
//
// Two weeks are never ridden on the same ground, so plain means mislead: a
// hilly week would be called a bad one. Every figure here is therefore a ratio
// of what happened to what was to be expected on that ground (indirect
// standardisation). The seconds of all rides are sorted into conditions by
// grade, by the motor's power at the wheel and by whether the bike is starting
// from a stand; the rate of all rides taken together in a condition is what is
// expected there. For energy the unit is the battery energy that the best
// rideable gears would have drawn on the same seconds for the same speed, wheel
// power and leg power, so climb, load and assist cancel second by second.
// Logged battery power holds the wind too; it cancels for the same reason.
//
// The ride is the unit of chance, since the seconds of one ride resemble each
// other:
//
//   - Intervals are bootstrapped by ride, each group apart, from a fixed seed.
//     A draw from n rides takes n-1, which makes the spread unbiased (Rao and
//     Wu 1988), and the quantiles are taken further out, as Student's t asks of
//     few rides (Hesterberg 2015).
//   - A change is called only where the interval of the change holds no zero
//     and a shuffle of the rides between the two groups gives a difference as
//     striking, in any of the figures compared, in at most one of twenty
//     cases (Westfall and Young 1993). Looking at many figures therefore does
//     not raise the rate of false calls.
//   - "No change" is a finding too: it is called where the whole interval is
//     within a stated margin, so that a change too small to matter is none.
//     Everything else is "cannot tell".
//
// The parameters of the bike profile are the same before and after; their
// doubt shifts both sides alike and is not in these intervals.
package trend
