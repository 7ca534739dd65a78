package bike

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"testing"
)

var update = flag.Bool("update", false, "write docs/profile.md anew")

// docs/profile.md is made from Numbers, so that what it says is what the
// program does.
func TestDocumentedNumbers(t *testing.T) {
	const path = "../../docs/profile.md"
	var want bytes.Buffer
	want.WriteString(profileIntro)
	example := Example()
	for _, n := range Numbers() {
		tolerance, value := "-", fmt.Sprintf("%g", n.In(example))
		if n.Tolerance > 0 {
			tolerance = fmt.Sprintf("%g %%", 100*n.Tolerance)
		}
		if n.In(example) == 0 {
			value = "-"
		}
		fmt.Fprintf(&want, "| `%s` | %s | %s | %g to %g | %s |\n", n.Key, n.Unit, value, n.Least, n.Most, tolerance)
	}
	if *update {
		if err := os.WriteFile(path, want.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want.Bytes()) {
		t.Errorf("%s is not what the program does; write it anew with go test ./analysis/bike -update", path)
	}
}

const profileIntro = `# The numbers of a bike profile

Made from the program by ` + "`go test ./analysis/bike -update`" + `; do not edit.

` + "`cogledger bike new`" + ` writes a profile in which every line says what it is and where to find it. The first
five blocks (name, wheel, drivetrain, drive, battery) must be there. What else is left out takes the value
below, and every report lists what was a default. The values of the first five blocks below are those of the
example, not defaults.

The tolerance is the half-width of the range in which the value lies nine times in ten, as a fraction of it. It
is this project's judgement of what can be known without a test bench: common practice, not a standard. A
profile's ` + "`tolerance`" + ` block sets its own, by key: ` + "`tolerance: {motor.resistance_ohm: 0.05}`" + `.

When a shift can be planned follows from ` + "`shifting.mechanism`" + `, by default what is fitted:

- ` + "`derailleur`" + `: while the cranks turn forward, ` + "`cogs_per_turn`" + ` cogs in a turn, each cog with its price; not under full
  load, and at twice the price under more than ` + "`light_nm`" + `. So before a stop it shifts down while you still pedal.
- ` + "`hub`" + `: at rest or with the load off, any number of steps for one price.
- ` + "`gearbox`" + `: at any time, any number of steps for one price; for one that its maker lets shift under load.

| key | unit | example or default | accepted | tolerance |
|---|---|---|---|---|
`
