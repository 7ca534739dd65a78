package store

import "fmt"

// A Census counts the different bikes, riders and days behind every tally. In
// SQL each of these counts takes a sort, or a table as long as the rides; here
// one look at every ride is enough for all.
type Census struct {
	all                          different
	bikes, riders, groups, spans counts

	crews map[crew]struct{}
	pairs map[pair]struct{}
	days  map[stay]uint64
}

// different says how many different ones there are.
type different struct{ bikes, riders, days int64 }

// counts holds the numbers of the keys of one kind.
type counts struct {
	places  map[string]int32
	counted []different
}

// A crew is who rode a bike, and for which group, by their places.
type crew struct{ bike, rider, group int32 }

// A pair is two that were seen together.
type pair struct {
	kind kind
	a, b int32
}

// A stay is one that was seen in a span of time.
type stay struct {
	kind      kind
	who, span int32
}

type kind int8

const (
	bikeAndRider kind = iota
	groupAndBike
	groupAndRider
	ofBike
	ofRider
	ofGroup
	ofAll
)

// CensusQuery asks what a Census looks at. Its rows are read by TakeCensus.
func CensusQuery(q Question) string {
	return fmt.Sprintf("SELECT bike, rider, team, CASE WHEN start IS NULL THEN '' ELSE %s END, COALESCE(start/86400, 0) FROM rides", q.Span())
}

// TakeCensus looks at every ride.
func TakeCensus(rides Cursor) (*Census, error) {
	c := &Census{
		bikes: newCounts(), riders: newCounts(), groups: newCounts(), spans: newCounts(),
		crews: make(map[crew]struct{}), pairs: make(map[pair]struct{}), days: make(map[stay]uint64),
	}
	var bike, rider, group, span string
	var day int64
	for rides.Next() {
		if err := rides.Scan(&bike, &rider, &group, &span, &day); err != nil {
			return nil, err
		}
		on := crew{c.bikes.place(bike), c.riders.place(rider), c.groups.place(group)}
		if newly(c.crews, on) {
			c.meet(on, rider != "")
		}
		if span != "" {
			c.ride(on, rider != "", c.spans.place(span), day)
		}
	}
	return c, rides.Err()
}

// meet counts a crew that was not seen before.
func (c *Census) meet(on crew, known bool) {
	bike, rider, group := &c.bikes.counted[on.bike], &c.riders.counted[on.rider], &c.groups.counted[on.group]
	if bike.bikes == 0 {
		bike.bikes = 1
		c.all.bikes++
	}
	if known && rider.riders == 0 {
		rider.riders = 1
		c.all.riders++
	}
	if newly(c.pairs, pair{bikeAndRider, on.bike, on.rider}) {
		rider.bikes++
		if known {
			bike.riders++
		}
	}
	if newly(c.pairs, pair{groupAndBike, on.group, on.bike}) {
		group.bikes++
	}
	if known && newly(c.pairs, pair{groupAndRider, on.group, on.rider}) {
		group.riders++
	}
}

// ride counts a day that a crew rode on.
func (c *Census) ride(on crew, known bool, span int32, day int64) {
	in := &c.spans.counted[span]
	day1, span1 := c.on(stay{ofBike, on.bike, span}, day)
	c.bikes.counted[on.bike].days += day1
	in.bikes += span1
	day1, span1 = c.on(stay{ofRider, on.rider, span}, day)
	c.riders.counted[on.rider].days += day1
	if known {
		in.riders += span1
	}
	day1, _ = c.on(stay{ofGroup, on.group, span}, day)
	c.groups.counted[on.group].days += day1
	day1, _ = c.on(stay{ofAll, 0, span}, day)
	c.all.days += day1
	in.days += day1
}

// on marks a day and gives 1 for a day that is new, and for a span that is. A
// span has at most 31 days on end: the low bits tell its days apart.
func (c *Census) on(s stay, day int64) (newDay, newSpan int64) {
	before, bit := c.days[s], uint64(1)<<(day&63)
	if before&bit != 0 {
		return 0, 0
	}
	c.days[s] = before | bit
	if before != 0 {
		return 1, 0
	}
	return 1, 1
}

func newCounts() counts { return counts{places: make(map[string]int32)} }

// place gives a key its place in counted.
func (c *counts) place(key string) int32 {
	n, met := c.places[key]
	if !met {
		n = int32(len(c.counted))
		c.places[key] = n
		c.counted = append(c.counted, different{})
	}
	return n
}

func (c *counts) of(key string) different {
	if n, met := c.places[key]; met {
		return c.counted[n]
	}
	return different{}
}

func (c *Census) ofAll(string) different { return c.all }

func newly[K comparable](in map[K]struct{}, k K) bool {
	if _, met := in[k]; met {
		return false
	}
	in[k] = struct{}{}
	return true
}
