package gears

// survey takes the census of the driving seconds as the model sees them.
func (m *model) survey(e *evidence, lag float64, spans []span) census {
	c := census{m: m, held: make([]float64, len(m.logRatio))}
	for i, odds := range usualSlipOdds() { // worth half a minute of each
		c.driving[i], c.slipping[i] = 30, 30*odds
	}
	for _, s := range spans {
		c.v = e.at(&m.scratch.heard, lag, s.lo, s.hi)
		c.v.set(m.noise)
		m.chain.smooth(m.scratch, s.hi-s.lo, m.look(c.v), c.visit, &c.passage)
	}
	return c
}

// learn takes the model's values from a census.
func (m *model) learn(c *census) {
	m.logC += c.deviation / c.weight
	m.noise = c.fit.solve()
	m.keep = c.keep()
	m.slipOdds = c.odds()
	leave := (c.passage.Changes + 5) / (c.passage.AtRisk + 200)
	for g := range m.chain.Leave {
		m.chain.Leave[g] = leave
	}
	m.chain.Arrive = c.arrivals()
	m.chain.RingShare = (c.passage.RingChanges + 1) / (c.passage.Changes + 20)
}

// A census is one pass's sums over the driving seconds.
type census struct {
	m *model
	v *view

	passage Passage

	driven            float64    // seconds, counted by Student weights
	weight, deviation float64    // the same over the variance, and with the deviation
	square            float64    // of the deviations, over the variance
	lagged            [2]float64 // product with the deviation one and two seconds ago
	late, steep       float64    // deviation times change of speed, and change squared, over the variance
	fit               noiseFit
	driving, slipping [powerBins]float64
	held              []float64 // s by gear
}

func (c *census) visit(t int, drive, slip []float64) {
	v, m := c.v, c.m
	if v.kind[t] != turning {
		return
	}
	best, most, driven := 0, 0.0, 0.0
	held, slip := c.held[:len(drive)], slip[:len(drive)]
	for g, p := range drive {
		held[g] += p + slip[g]
		driven += p
		if p > most {
			best, most = g, p
		}
	}
	c.driving[v.power[t]] += driven
	c.slipping[v.power[t]] += 1 - driven
	if most < 0.7 {
		return
	}
	sure := float64(v.sure[t])
	x := float64(v.logDev[t]) - m.logC - m.logRatio[best]
	z := x * sure
	if z*z > 20 {
		return
	}
	k := most * 6 / (5 + z*z) // Student weight
	c.driven += k
	c.weight += k * sure * sure
	c.deviation += k * x * sure * sure
	change := float64(v.change[t])
	c.fit.add(k*x*x-float64(v.round[t]), float64(v.slow[t]), change*change, sure, most)
	c.late += k * x * change * sure * sure
	c.steep += k * change * change * sure * sure
	c.square += most * z * z
	for k := range c.lagged {
		i := t - k - 1
		if i < 0 || v.kind[i] < starting {
			break
		}
		was := (float64(v.logDev[i]) - m.logC - m.logRatio[best]) * sure
		if was*was > 20 {
			break // another gear
		}
		c.lagged[k] += most * z * was
	}
}

// keep is the correlation of a first-order process that forgets as slowly, all
// in all, as the deviations do. They are a wandering part and a fresh one: the
// second correlation over the first tells how long the wandering part lasts.
func (c *census) keep() float64 {
	r1, r2 := c.lagged[0]/c.square, c.lagged[1]/c.square
	if !(r1 > 0.02) {
		return 0
	}
	wander := min(max(r2/r1, r1), 0.9)
	sum := 1 + 2*r1/(1-wander)
	return min((sum-1)/(sum+1), 0.9)
}

// lag is by how much the lag should grow: where speed rises, a lag taken too
// short shows as development too small.
func (c *census) lag() float64 {
	const doubt = 1.5 // s, of the lag before the ride is heard
	return -c.late / (c.steep + 1/(doubt*doubt))
}

// odds are how much likelier each bin of power is while slipping. Where power
// is not known it says nothing.
func (c *census) odds() (odds [powerBins]float64) {
	const most = 30 // readings trail: no power proves anything
	var d, s float64
	for i := 1; i < powerBins; i++ {
		d += c.driving[i]
		s += c.slipping[i]
	}
	odds[0] = 1
	for i := 1; i < powerBins; i++ {
		odds[i] = min(max(c.slipping[i]/s/(c.driving[i]/d), 1.0/most), most)
	}
	return odds
}

// arrivals are how readily each gear is changed to: as often as it is held, with
// a share of the ride for the gears that none was heard in, so that the first
// use of a gear is rare and not impossible.
func (c *census) arrivals() []float64 {
	const open = 0.25 // of the weight of a gear held as long as all on average
	sum := 0.0
	for _, s := range c.held {
		sum += s
	}
	mean := (sum + 1) / float64(len(c.held))
	weights := make([]float64, len(c.held))
	for g, s := range c.held {
		weights[g] = s/mean + open
	}
	return weights
}
