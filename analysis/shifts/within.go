package shifts

import "math"

// priceSteps is how often the bisection halves the range of the price, on a
// logarithmic scale: from a factor of four it ends within 5 %.
const priceSteps = 5

// Within returns the best path with at most the given number of shifts that a
// price a shift can bring about: at the given price where that suffices, else at
// the least higher price that does, found by bisection. A higher price never
// buys more shifts in sum of their weights; that their plain number may still
// waver is why only paths within the limit are kept. Where even the dearest price leaves more shifts, since no
// gear holds the ride without them, the path with the fewest is returned.
func (b *Planner) Within(p Problem, price float64, most int) (Path, error) {
	path, err := b.Best(p, price)
	if err != nil || path.Shifts <= most {
		return path, err
	}
	low, high := price, price
	for path.Shifts > most {
		if high > dearest {
			return path, nil
		}
		low, high = high, max(1, 4*high)
		if path, err = b.Best(p, high); err != nil {
			return path, err
		}
	}
	for range priceSteps {
		middle := math.Sqrt(max(low, 0.5) * high)
		try, err := b.Best(p, middle)
		if err != nil {
			return path, err
		}
		if try.Shifts > most {
			low = middle
			continue
		}
		high, path = middle, try
	}
	return path, nil
}

// dearest is a price in J that no shift on a bicycle is worth.
const dearest = 1e9
