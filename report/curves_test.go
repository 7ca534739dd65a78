package report

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"cogledger/analysis/bike"
)

func curvesOf(t *testing.T, p *bike.Profile, library string) string {
	t.Helper()
	var b bytes.Buffer
	if err := writeCurves(&b, p, Options{}, library); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestCurves(t *testing.T) {
	hub := *bike.Example()
	hub.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 5}
	geared := *bike.Example()
	geared.Drivetrain = bike.Drivetrain{Chainrings: []int{38}, Cogs: []int{20}, HubGears: []float64{0.53, 0.68, 1, 1.2, 1.6}}
	hostile := *bike.Example()
	hostile.Name = hostileName
	for name, p := range map[string]*bike.Profile{"mid": bike.Example(), "hub": &hub, "gear hub": &geared, "hostile": &hostile} {
		page := curvesOf(t, p, "/* library */")
		for _, id := range []string{"efficiency", "band", "map", "pull", "launch"} {
			if !strings.Contains(page, `id="data-`+id+`-chart"`) || !strings.Contains(page, `<section class="chapter" id="`+id+`"`) {
				t.Errorf("%s: no curve %q", name, id)
			}
		}
		if bad := regexp.MustCompile(`\b(NaN|[+-]?Inf)\b`).FindString(strings.Replace(page, startScript, "", 1)); bad != "" {
			t.Errorf("%s: %q is printed", name, bad)
		}
		if page != curvesOf(t, p, "/* library */") {
			t.Errorf("%s: two runs differ", name)
		}
		if strings.Contains(page, hostileName) {
			t.Errorf("%s: the bike's name is markup", name)
		}
	}
}

// The same motor in the hub pulls less at a stand than through the lowest gear,
// and more than through the tallest: a fixed ratio is good at one speed only
// (common practice).
func TestHubPullsBetweenTheGears(t *testing.T) {
	page := curvesOf(t, bike.Example(), "")
	row := regexp.MustCompile(`<tr><td[^>]*><bdi>(hub|\d+/\d+)</bdi></td><td[^>]*><bdi>([\d.\x{202f}]+)</bdi>`)
	pulls := map[string]string{}
	var order []string
	for _, m := range row.FindAllStringSubmatch(page[strings.Index(page, "Starts from a stand"):], -1) {
		pulls[m[1]] = m[2]
		order = append(order, m[1])
	}
	if len(order) < 4 || order[len(order)-1] != "hub" {
		t.Fatalf("rows %v", order)
	}
	value := func(name string) int {
		n := 0
		for _, d := range pulls[name] {
			if d >= '0' && d <= '9' {
				n = n*10 + int(d-'0')
			}
		}
		return n
	}
	lowest, tallest, hub := value(order[0]), value(order[len(order)-2]), value("hub")
	if !(lowest > hub && hub > tallest) {
		t.Errorf("pull in %s %d N, hub %d N, in %s %d N", order[0], lowest, hub, order[len(order)-2], tallest)
	}
}
