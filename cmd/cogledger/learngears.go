package main

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/parser"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

// learnGears finds the gears of a bike in rides of it, and returns the text of
// its profile with them written in. All else stays as the text has it. tyre is
// the ISO 5775 size of the driven wheel; empty leaves the profile's.
func learnGears(rides []*ride.Ride, text []byte, file, tyre string) ([]byte, []ride.Note, error) {
	text, err := withTyre(text, file, tyre)
	if err != nil {
		return nil, nil, err
	}
	p, err := bike.Parse(text, file)
	if err != nil {
		return nil, nil, err
	}
	learnt, err := gears.Learn(rides, gears.Known{HubGears: p.Drivetrain.HubGears, Circumference: p.Circumference(), Drive: p.Drive}, gears.Options{})
	if err != nil {
		return nil, nil, err
	}
	if !learnt.Steps || len(learnt.Chainrings) == 0 || len(learnt.Cogs) == 0 {
		failed := errors.New("the gears cannot be told from these rides; count the teeth and write them into the profile")
		for _, n := range learnt.Notes {
			failed = fmt.Errorf("%w; %s", failed, n)
		}
		return nil, nil, failed
	}
	found := fmt.Sprintf("{chainrings: %s, cogs: %s}", list(learnt.Chainrings), list(learnt.Cogs))
	if len(learnt.HubGears) > 0 {
		found = strings.TrimSuffix(found, "}") + fmt.Sprintf(", hub_gears: %s}", list(learnt.HubGears))
	}
	text, err = replaceYAML(text, "$.drivetrain", found)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", file, err)
	}
	if _, err := bike.Parse(text, file); err != nil {
		return nil, nil, fmt.Errorf("the gears found do not make a profile: %w", err)
	}
	note := ride.Note{Text: fmt.Sprintf("gears found in the rides: %s with %s teeth at the front, %s at the back; %.0f %% sure", ringsWord(learnt.Chainrings), list(learnt.Chainrings), list(learnt.Cogs), 100*learnt.Certainty)}
	if learnt.AssumedRings {
		note.Cure = "the teeth at the front are assumed: count them"
	}
	return text, append([]ride.Note{note}, learnt.Notes...), nil
}

func withTyre(text []byte, file, tyre string) ([]byte, error) {
	if tyre == "" {
		return text, nil
	}
	if _, err := bike.TyreCircumference(tyre); err != nil {
		return nil, err
	}
	text, err := replaceYAML(text, "$.wheel", fmt.Sprintf("{tyre: %q}", tyre))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return text, nil
}

// replaceYAML puts a value in the place of another and keeps the rest, comments
// too.
func replaceYAML(text []byte, at, value string) ([]byte, error) {
	path, err := yaml.PathString(at)
	if err != nil {
		return nil, err
	}
	tree, err := parser.ParseBytes(text, parser.ParseComments)
	if err != nil {
		return nil, err
	}
	if err := path.ReplaceWithReader(tree, strings.NewReader(value)); err != nil {
		return nil, err
	}
	return append(bytes.TrimRight([]byte(tree.String()), "\n"), '\n'), nil
}

func list[T any](values []T) string {
	words := make([]string, len(values))
	for i, v := range values {
		words[i] = fmt.Sprint(v)
	}
	return "[" + strings.Join(words, ", ") + "]"
}

func ringsWord(rings []int) string {
	if len(rings) == 1 {
		return "one ring"
	}
	return fmt.Sprintf("%d rings", len(rings))
}
