package bike

import (
	"errors"
	"fmt"
	"strings"
	"testing"
)

func TestTooManyGears(t *testing.T) {
	const profile = "name: a\nwheel: {rollout_mm: 2100}\ndrivetrain: {chainrings: [%s], cogs: [%s]%s}\ndrive: {kind: mid, turns_per_crank: 36}\nbattery: {nominal_v: 48, capacity_wh: 500, resistance_ohm: 0.1}\n"
	count := func(n, from int) string {
		return strings.Trim(strings.ReplaceAll(fmt.Sprint(counted(n, from)), " ", ", "), "[]")
	}
	var ratios []string
	for i := range 900 {
		ratios = append(ratios, fmt.Sprintf("%.4f", 0.3+float64(i)/1000))
	}
	for reason, tt := range map[string]struct{ rings, cogs, hub, say string }{
		"rings":     {count(4, 30), "11", "", "4 rings are more"},
		"cogs":      {"40", count(17, 10), "", "17 cogs are more"},
		"hub gears": {"40", "20", ", hub_gears: [" + strings.Join(ratios, ", ") + "]", "900 gears are more"},
		"all rings": {count(900, 10), "11", "", "900 rings are more"},
	} {
		_, err := Parse(fmt.Appendf(nil, profile, tt.rings, tt.cogs, tt.hub), "many.yaml")
		var wrong *Error
		if !errors.As(err, &wrong) || !strings.Contains(err.Error(), tt.say) || len(wrong.Problems) > 25 {
			t.Errorf("%s: %.300v", reason, err)
		}
	}
	if _, err := Parse(fmt.Appendf(nil, profile, count(3, 30), count(16, 10), ""), "most.yaml"); err != nil {
		t.Errorf("the most gears: %v", err)
	}
}

func counted(n, from int) []int {
	list := make([]int, n)
	for i := range list {
		list[i] = from + i
	}
	return list
}

func TestTooLargeProfile(t *testing.T) {
	if _, err := Parse(make([]byte, MaxBytes+1), "log.fit"); err == nil || !strings.Contains(err.Error(), "log.fit") || !strings.Contains(err.Error(), "is this a ride log?") {
		t.Errorf("got %v", err)
	}
}
