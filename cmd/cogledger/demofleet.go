package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"cogledger/cmd/internal/fleetmade"
	"cogledger/cmd/internal/output"
)

// demoFleet makes the logs of a whole fleet.
func demoFleet(ctx context.Context, stdout, stderr io.Writer, dir string, o fleetmade.Options, force bool) error {
	if o.Rides < 1 || o.Bikes < 1 {
		return usagef("--rides %d --bikes %d: a fleet has at least one of each", o.Rides, o.Bikes)
	}
	bikes, rides := filepath.Join(dir, fleetmade.ProfileFolder), filepath.Join(dir, fleetmade.LogFolder)
	right := output.Nothing
	if force {
		right = output.Profiles
	}
	for _, path := range fleetmade.Paths(dir, o) {
		if err := (&output.Files{}).Plan("demo", path, right); err != nil {
			return err
		}
	}
	o.Write = func(path string, data []byte) error { return writeFile("demo", path, force, bytesOf(data)) }
	told := time.Now()
	planted, err := fleetmade.Write(ctx, dir, o, func(done int) {
		if time.Since(told) > 10*time.Second {
			told = time.Now()
			fmt.Fprintf(stderr, "%d of %d rides made\n", done, o.Rides)
		}
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%d made rides of %d bikes in %s\n", o.Rides, o.Bikes, dir)
	fmt.Fprintf(stdout, "Batteries of twice the resistance: %s\n", listed(planted.WeakBatteries))
	fmt.Fprintf(stdout, "Riders who lug: %s\n", listed(planted.Luggers))
	for _, r := range planted.Ramps {
		fmt.Fprintf(stdout, "A ramp that everybody takes in too tall a gear: %.4f, %.4f\n", r.Lat, r.Lon)
	}
	_, err = fmt.Fprintf(stdout, "\nNow: cogledger fleet %s --bikes %s --store %s\n", rides, bikes, filepath.Join(dir, "fleet.sqlite"))
	return err
}

func listed(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}
