package report

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"cogledger/ingest/ride"
)

// sampleMatch is a match of two speeds that differ by a tenth, lively in the
// seconds from 300 to 420 only.
func sampleMatch() *ride.Match {
	m := &ride.Match{First: "head.fit", Second: "drive <b>.csv", Channel: ride.Speed, OffsetS: 12.34, DriftPPM: 40, Correlation: 0.9994, RunnerUp: 0.41,
		A: make([]float64, 900), B: make([]float64, 900)}
	for i := range m.A {
		m.A[i] = 6
		if i >= 300 && i < 420 {
			m.A[i] += 3 * math.Sin(float64(i)/7)
		}
		m.B[i] = m.A[i] + 0.1
	}
	m.A[310] = math.NaN()
	for lag := -30; lag <= 30; lag++ {
		m.Lags = append(m.Lags, 12.34+float64(lag))
		m.Correlations = append(m.Correlations, 0.9994-0.02*math.Abs(float64(lag)))
	}
	return m
}

func TestLiveliest(t *testing.T) {
	m := sampleMatch()
	if at := liveliest(m.A, m.B, 120); at < 290 || at > 310 {
		t.Errorf("the liveliest stretch begins at %d, want about 300", at)
	}
	hole := make([]float64, 500)
	for i := range hole {
		hole[i] = math.NaN()
	}
	for name, at := range map[string]int{
		"empty": liveliest(nil, nil, 120), "all missing": liveliest(hole, hole, 120), "still": liveliest(make([]float64, 200), make([]float64, 200), 120),
	} {
		if at != -1 {
			t.Errorf("%s: %d, want -1", name, at)
		}
	}
	if at := liveliest([]float64{1, 2, 3}, []float64{1, 2, 4}, 120); at != 0 {
		t.Errorf("shorter than the stretch: %d, want 0", at)
	}
}

func TestMatchWords(t *testing.T) {
	cases := []struct {
		name   string
		change func(*ride.Match)
		want   []string
		not    string
	}{
		{"plain", func(*ride.Match) {}, []string{"it begins 12.3\u00a0s later", "runs slow by 0.14\u00a0s an hour", "correlate by 0.999;", "by 0.41 at most"}, "hand"},
		{"earlier, fast", func(m *ride.Match) { m.OffsetS, m.DriftPPM = -3, -40 }, []string{"3.0\u00a0s earlier", "runs fast by 0.14"}, "−"},
		{"no drift", func(m *ride.Match) { m.DriftPPM = 0.5 }, nil, "an hour"},
		{"by hand, poor", func(m *ride.Match) { m.ByHand, m.Correlation, m.RunnerUp, m.Lags = true, 0.12, math.NaN(), nil }, []string{"given by hand", "0.12 only", "two rides"}, "at most"},
		{"cannot be compared", func(m *ride.Match) { m.ByHand, m.Correlation, m.RunnerUp = true, math.NaN(), math.NaN() }, []string{"share no channel"}, "NaN"},
	}
	for _, c := range cases {
		res := sampleResult(240, 0)
		res.Ride.Match = sampleMatch()
		c.change(res.Ride.Match)
		s := views(one(res), Options{})[0].match(newUnits(false)).Sentence
		for _, want := range c.want {
			if !strings.Contains(s, want) {
				t.Errorf("%s: %q is not in %q", c.name, want, s)
			}
		}
		if c.not != "" && strings.Contains(s, c.not) {
			t.Errorf("%s: %q is in %q", c.name, c.not, s)
		}
	}
}

// A joined ride shows its match once, a private report without names and without the
// traces, a ride of one log not at all.
func TestMatchInPageAndDocument(t *testing.T) {
	res := sampleResult(900, 0)
	res.Ride.Match = sampleMatch()
	res.Notes = append(res.Notes, ride.Note{Text: "drive <b>.csv was laid on the clock of head.fit: +12.3 s; speed correlates by 1.00"})
	show := func(o Options) string {
		var b bytes.Buffer
		if err := writePage(&b, one(res), o, ""); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	page := show(Options{})
	if n := strings.Count(page, "was laid on the clock of"); n != 1 {
		t.Errorf("the match is told %d times", n)
	}
	if strings.Contains(page, "drive <b>") || !strings.Contains(page, "The speed of both logs, over the two minutes") || !strings.Contains(page, "at other offsets; dashed, the one taken") {
		t.Error("the page lacks a drawing, or a file name is markup")
	}
	private := show(Options{Privacy: true})
	if !strings.Contains(private, "Two logs, one ride") || strings.Contains(private, "head.fit") || strings.Contains(private, "of both logs, over") {
		t.Error("a private page tells too much, or nothing")
	}
	var doc bytes.Buffer
	if err := JSON(&doc, one(res), Options{}); err != nil {
		t.Fatal(err)
	}
	var back struct {
		Rides []struct{ Match *DocumentMatch }
	}
	if err := json.Unmarshal(doc.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	if m := back.Rides[0].Match; m == nil || m.OffsetS != 12.34 || m.Channel != "speed" || m.Second != "drive <b>.csv" {
		t.Errorf("document: %+v", m)
	}
	res.Ride.Match = nil
	if strings.Contains(show(Options{}), "Two logs, one ride") {
		t.Error("one log, and a match is shown")
	}
}
