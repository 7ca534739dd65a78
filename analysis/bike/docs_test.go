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
		tolerance, guess, value := "-", "-", fmt.Sprintf("%g", n.In(example))
		if n.Tolerance > 0 {
			tolerance = fmt.Sprintf("%g %%", 100*n.Tolerance)
		}
		if n.Guess > 0 {
			guess = fmt.Sprintf("%g %%", 100*n.Guess)
		}
		if n.In(example) == 0 {
			value = "-"
		}
		fmt.Fprintf(&want, "| `%s` | %s | %s | %g to %g | %s | %s |\n", n.Key, n.Unit, value, n.Least, n.Most, tolerance, guess)
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

Where a value came from decides which tolerance counts. What was typed in has the first one below. A default that
nobody looked at has the last one, which is far wider: values left out, and those that the ` + "`origin`" + ` block lists under
` + "`default`" + ` as long as they are unchanged (` + "`bike new`" + ` lists all that it was not told). What it lists under ` + "`learnt`" + ` was
found in rides and has its tolerance beside it; under ` + "`measured`" + ` half of the typed tolerance counts. A motor in the wheel
has no defaults worth the name: without its constants typed in, its profile is told of no loss, heat or replay.

When a shift can be planned follows from ` + "`shifting.mechanism`" + `, by default what is fitted:

- ` + "`derailleur`" + `: while the cranks turn forward, ` + "`cogs_per_turn`" + ` cogs in a turn, each cog with its price; not under full
  load, and at twice the price under more than ` + "`light_nm`" + `. So before a stop it shifts down while you still pedal.
- ` + "`hub`" + `: at rest or with the load off, any number of steps for one price.
- ` + "`gearbox`" + `: at any time, any number of steps for one price; for one that its maker lets shift under load.

| key | unit | example or default | accepted | tolerance | as a default |
|---|---|---|---|---|---|
`
