package analysis

import "cogledger/analysis/trend"

// Sums condenses reviewed rides to what comparing them needs.
func Sums(rides []*Result) []trend.Ride {
	sums := make([]trend.Ride, len(rides))
	for i, res := range rides {
		sums[i] = trend.Sum(res.Ride, res.Road, res.Drive, res.Plan, res.Habits)
	}
	return sums
}

// Compare sets the later rides against the earlier ones.
func Compare(earlier, later []*Result, o trend.Options) trend.Comparison {
	return trend.Compare(Sums(earlier), Sums(later), o)
}
