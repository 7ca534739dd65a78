package main

import (
	"errors"
	"fmt"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

// learnGears finds the gears of a bike in rides of it, nothing of its teeth
// being known, and writes them into a copy of its profile. tyre is the ISO 5775
// size of the driven wheel; empty leaves the profile's. All else stays. The
// notes say how sure the gears are, the remarks the same line by line for
// bike.Profile.YAML.
func learnGears(rides []*ride.Ride, start *bike.Profile, tyre string) (p *bike.Profile, remarks map[string]string, notes []ride.Note, err error) {
	from := *start
	if tyre != "" {
		if _, err := bike.TyreCircumference(tyre); err != nil {
			return nil, nil, nil, err
		}
		from.Wheel = bike.Wheel{Tyre: tyre}
	}
	known := gears.Known{HubGears: from.Drivetrain.HubGears, Circumference: from.Circumference(), Drive: from.Drive}
	found, err := gears.Learn(rides, known, gears.Options{})
	if err != nil {
		return nil, nil, nil, err
	}
	if !found.Steps || len(found.Chainrings) == 0 || len(found.Cogs) == 0 {
		err := errors.New("the gears cannot be told from these rides; count the teeth and write them into the profile")
		for _, n := range found.Notes {
			err = fmt.Errorf("%w; %s", err, n)
		}
		return nil, nil, nil, err
	}
	p, remarks = withDrivetrain(&from, found)
	sure := ride.Note{Text: fmt.Sprintf("gears found in the rides, %.0f %% sure: teeth %v at the front, %v at the back", 100*found.Certainty, found.Chainrings, found.Cogs)}
	if found.AssumedRings {
		sure.Cure = "the teeth at the front are assumed: count them"
	}
	return p, remarks, append([]ride.Note{sure}, found.Notes...), nil
}
