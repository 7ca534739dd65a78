package report

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"cogledger/analysis"
)

// The schema is checked by a validator of its own, not by the library that
// generates it.
func TestDocumentsKeepToTheSchema(t *testing.T) {
	parsed, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema()))
	if err != nil {
		t.Fatal(err)
	}
	compiler := jsonschema.NewCompiler()
	if err := compiler.AddResource("review-1.json", parsed); err != nil {
		t.Fatal(err)
	}
	schema, err := compiler.Compile("review-1.json")
	if err != nil {
		t.Fatal(err)
	}
	for name, set := range map[string]*analysis.Set{
		"ride": sampleSet(1, 300), "week": weeksSet(), "bare": one(bareResult()), "modelled": one(modelledResult()), "hostile": one(hostileResult()),
	} {
		for _, o := range []Options{{}, {Privacy: true}} {
			var b bytes.Buffer
			if err := JSON(&b, set, o); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			document, err := jsonschema.UnmarshalJSON(bytes.NewReader(b.Bytes()))
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if err := schema.Validate(document); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
	// the schema can also say no
	broken := strings.Replace(document(t, sampleSet(1, 300)), `"basis": "measured"`, `"basis": "guessed"`, 1)
	parsedBroken, err := jsonschema.UnmarshalJSON(strings.NewReader(broken))
	if err != nil {
		t.Fatal(err)
	}
	if schema.Validate(parsedBroken) == nil {
		t.Error("a basis that does not exist passes")
	}
}

func document(t *testing.T, set *analysis.Set) string {
	t.Helper()
	var b bytes.Buffer
	if err := JSON(&b, set, Options{}); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// Keys that others rely on; renaming one needs a new schema name.
func TestDocumentKeys(t *testing.T) {
	var doc map[string]any
	if err := json.Unmarshal([]byte(document(t, sampleSet(1, 300))), &doc); err != nil {
		t.Fatal(err)
	}
	has := func(path string, m any, keys string) {
		t.Helper()
		object, ok := m.(map[string]any)
		if !ok {
			t.Fatalf("%s is no object", path)
		}
		for _, k := range strings.Fields(keys) {
			if _, found := object[k]; !found {
				t.Errorf("%s lacks %q", path, k)
			}
		}
	}
	first := func(path string, m any) any {
		t.Helper()
		list, ok := m.([]any)
		if !ok || len(list) == 0 {
			t.Fatalf("%s is empty", path)
		}
		return list[0]
	}
	has("document", doc, "schema bike rides assumptions totals")
	ride := first("rides", doc["rides"]).(map[string]any)
	has("ride", ride, "source start duration_s moving_s distance_m channels warnings battery_wh rider_wh wh_per_km lugging_loss_wh range_gain_km winding_peak_c ledger classes gears gear_known_share development_circumference_m plan moments habits replays")
	has("figure", ride["battery_wh"], "value low high basis")
	ledger := ride["ledger"].(map[string]any)
	has("ledger", ledger, "battery wheel residual_wh")
	has("account", first("battery", ledger["battery"]), "account wh basis")
	has("class", first("classes", ride["classes"]), "class seconds wh")
	has("gear", first("gears", ride["gears"]), "front rear seconds wh")
	has("plan", ride["plan"], "shifts shifts_ridden saving_wh")
	has("moment", first("moments", ride["moments"]), "at_s at_m lat lon grade from to motor_rpm_from motor_rpm_to saving_wh")
	has("habit", first("habits", ride["habits"]), "habit count wh advice")
	has("replay", first("replays", ride["replays"]), "name battery_wh copper_wh winding_peak_c feasible_share")
	has("assumption", first("assumptions", doc["assumptions"]), "name value unit source")
}

func TestNumbersAreNullWhenNotKnown(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		got, err := json.Marshal(Number(v))
		if err != nil || string(got) != "null" {
			t.Errorf("%v: %s, %v", v, got, err)
		}
	}
	got, _ := json.Marshal(Number(0.1 + 0.2))
	if string(got) != "0.3" {
		t.Errorf("0.1+0.2 is written %s", got)
	}
}
