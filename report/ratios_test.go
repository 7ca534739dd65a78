package report

import (
	"bytes"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

// learnt is a made result: one ring of 38, four cogs, and a wheel of 2.2 m.
func learnt() *gears.Learnt {
	l := &gears.Learnt{
		Steps: true, Explained: 0.93, Steady: 1500, Chainrings: []int{38}, Cogs: []int{15, 18, 21}, RingMetres: []float64{83.6}, Circumference: 2.2,
		AssumedRings: true, Certainty: 0.8, Histogram: gears.Histogram{Low: 2, Growth: 1.005, Seconds: make([]float64, 260)},
		Notes: []ride.Note{{Text: "</script><b>one ride has no cadence", Cure: "carry a sensor"}},
	}
	for _, cog := range []int{21, 18, 15} {
		dev := 83.6 / float64(cog)
		l.Lines = append(l.Lines, gears.Line{Development: dev, Low: dev * 0.995, High: dev * 1.005, Seconds: 400, Ring: 38, Cog: cog, Certainty: 0.85 + float64(cog%2)/10})
		l.Histogram.Seconds[int(math.Log(dev/2)/math.Log(1.005))] = 400
	}
	l.Lines = append(l.Lines, gears.Line{Development: 6.1, Low: 6, High: 6.2, Seconds: 40})
	return l
}

func ratiosOf(t *testing.T, l *gears.Learnt) string {
	t.Helper()
	var b bytes.Buffer
	if err := Ratios(&b, l, Options{}); err != nil {
		t.Fatal(err)
	}
	return strings.Replace(b.String(), startScript, "", 1)
}

func TestRatios(t *testing.T) {
	page := ratiosOf(t, learnt())
	for _, want := range []string{"4 gears were found. 93\u00a0% of", "38/21 95\u00a0%", "38/18 85\u00a0%", "teeth times circumference: 83.60\u00a0m", "No teeth fit at 6.10\u00a0m", "90\u00a0% sure: 38/18."} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if strings.Contains(page, "</script><b>") {
		t.Error("a note is markup")
	}
	if bad := regexp.MustCompile(`\b(NaN|[+-]?Inf)\b`).FindString(page); bad != "" {
		t.Errorf("%q is printed", bad)
	}
	if n := strings.Count(page, `class="fill-band"`); n != 3 {
		t.Errorf("%d bars, want 3", n)
	}
	none := ratiosOf(t, &gears.Learnt{Steady: 30, Histogram: learnt().Histogram})
	if !strings.Contains(none, "No gears were found") || strings.Contains(none, "<table>") {
		t.Error("no gears, and the page does not say so")
	}
	ratiosOf(t, &gears.Learnt{})
}

// A gear's line stands over its bar, wherever on the page that is.
func TestRatioLinesStandOverTheirBars(t *testing.T) {
	svg := string(drawRatios(learnt()))
	bar := regexp.MustCompile(`<rect class="fill-band" x="([\d.]+)" y="[\d.]+" width="([\d.]+)"`).FindAllStringSubmatch(svg, -1)
	line := regexp.MustCompile(`<path class="line-lug" d="M([\d.]+) `).FindAllStringSubmatch(svg, -1)
	if len(bar) != 3 || len(line) != 4 {
		t.Fatalf("%d bars, %d lines", len(bar), len(line))
	}
	for k, b := range bar {
		from, width, at := parsed(t, b[1]), parsed(t, b[2]), parsed(t, line[k][1])
		if at < from-0.2 || at > from+width+0.2 {
			t.Errorf("line %d at %g, its bar from %g to %g", k, at, from, from+width)
		}
	}
}

func parsed(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
