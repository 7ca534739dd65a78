// Package fleet takes many reviewed rides together: which bikes, riders and
// places lose energy to lugging, how sure that is, what a fix is worth, and
// which batteries and motors need the workshop.
//
// A ride enters as rows: one Ride, its Habits and its Segments. A store keeps
// the rows and sums them into Tallies; Summarise turns tallies into what a
// report shows. Nothing here reads or writes anything.
//
// The statistics, in one place:
//
//   - Energy lost a kilometre is a ratio of sums, loss over distance, and not a
//     mean of ratios, so that short rides weigh little. Its standard error is
//     that of the ratio estimator (Cochran, Sampling Techniques, 3rd ed., 6.4),
//     with rides as the units. Intervals are 90 % and use Student's t.
//   - Bikes differ by more than chance. Whether one stands out is judged
//     against chance and the spread between its peers together, as in a funnel
//     plot with an additive spread (Spiegelhalter 2005, Statistics in Medicine
//     24:1185), the spread taken from the median absolute deviation, so that
//     the ones to be found do not hide themselves.
//   - Many are judged at once, so the share of false ones among those found is
//     held at 5 % (Benjamini and Hochberg 1995, J. R. Stat. Soc. B 57:289).
//   - With too few rides, days or kilometres there is no verdict.
package fleet
