package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/analysis/learn"
	"cogledger/cmd/internal/output"
	"cogledger/ingest/ride"
)

// learnFlags are what `bike learn` is asked for.
type learnFlags struct {
	bike       string
	columns    string
	chainrings []int
	cogs       []int
	hubGears   []float64
	tyre       string
	rollout    float64
	out        string
	picture    string
	force      bool
}

func newBikeLearn() *cobra.Command {
	var f learnFlags
	cmd := &cobra.Command{
		Use:   "learn RIDE...",
		Short: "Learn a bike's gears, motor, battery and drag from its rides",
		Long: `learn finds the gears that a bike was ridden in from speed and cadence alone, and
gives them teeth as far as what you know allows: the ring, the cogs, the tyre, or
nothing, in which case only ring times circumference can be told. Where the rides
hold volts and amperes, motor speed or rider power it learns the battery's
resistance, the motor's constants and the bike's drag too.

The profile it writes says beside each line how sure it is. What the rides cannot
tell keeps its default, or the value of the profile given with --bike.

Everyday rides tell gears, battery and drag. The motor's constant and resistance
they seldom tell apart; three rides of half an hour to a plan do. With volts,
amperes, motor speed and rider power logged, and the battery about half full:
  - on a level road, out and back: assistance off, level 1 and level 2, each with
    slow and with fast cadence, some of it with hardly any push, and let the bike
    roll twice;
  - up and down a hill, once or twice a level: half of it in a tall gear at about
    50 rpm, then a few turns as hard as you can, the other half in a low gear at
    about 100 rpm; roll down;
  - last, at the highest level in the lowest gear, spin as fast as you can for
    half a minute where the road climbs gently, so that the motor runs out of
    voltage below the speed at which assistance ends.
docs/learning-ride.md explains each step. Ride it where traffic lets you, and
stop if motor or battery warns of heat.`,
		Example: `  cogledger bike learn *.fit --tyre 47-622 --chainrings 38 -o bike.yaml
  cogledger bike learn *.fit --bike bike.yaml -o learnt.yaml
  cogledger bike learn hub.csv --chainrings 42 --cogs 21 --hub-gears 0.53,0.6,0.68,0.76,0.86,1,1.16,1.29,1.46,1.65`,
		Args:              cobra.MinimumNArgs(1),
		ValidArgsFunction: completeLogs,
		RunE: func(cmd *cobra.Command, paths []string) error {
			return learnBike(cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr(), paths, f)
		},
	}
	s := cmd.Flags()
	s.StringVarP(&f.bike, "bike", "b", "", "profile to start from; its teeth are taken as known unless given here")
	s.StringVar(&f.columns, "columns", "", "column map (YAML) for CSV logs with headers of their own")
	s.IntSliceVar(&f.chainrings, "chainrings", nil, "teeth of the rings, if known")
	s.IntSliceVar(&f.cogs, "cogs", nil, "teeth of the cogs, if known")
	s.Float64SliceVar(&f.hubGears, "hub-gears", nil, "ratios of a gear hub, lowest first")
	s.StringVar(&f.tyre, "tyre", "", "ISO 5775 tyre size, like 47-622, if known")
	s.Float64Var(&f.rollout, "rollout-mm", 0, "wheel circumference in mm, if measured")
	s.StringVarP(&f.out, "output", "o", "", "write the profile to this file instead of stdout")
	s.StringVar(&f.picture, "picture", "", "draw the gears heard, with what could not be told, as a page in this file")
	s.BoolVar(&f.force, "force", false, "overwrite files that are no pages of this program")
	completeFlags(cmd)
	return cmd
}

// plan checks all that will be written, before anything is read.
func (f learnFlags) plan(paths []string) (*output.Files, error) {
	out := &output.Files{}
	out.Read(paths...)
	out.Read(f.bike, f.columns)
	right := output.Nothing
	if f.force {
		right = output.Profiles
	}
	if err := out.Plan("--output", f.out, right); err != nil {
		return nil, err
	}
	return out, out.Plan("--picture", f.picture, output.ReplacingPage(f.force))
}

func learnBike(ctx context.Context, stdout, stderr io.Writer, paths []string, f learnFlags) error {
	out, err := f.plan(paths)
	if err != nil {
		return err // before minutes of work
	}
	defer out.Discard()
	start, err := f.start()
	if err != nil {
		return err
	}
	rides, bad, err := f.rides(ctx, stderr, paths)
	if err != nil {
		return err
	}
	known, err := f.known(start)
	if err != nil {
		return err
	}
	found, err := gears.Learn(rides, known, gears.Options{})
	if err != nil {
		return err
	}
	if err := printLearnt(stderr, found); err != nil {
		return err
	}
	title := ""
	if f.bike != "" {
		title = start.Name
	}
	if err := writeRatios(stderr, out, f.picture, found, title); err != nil {
		return err
	}
	if !found.Steps || len(found.Chainrings) == 0 || len(found.Cogs) == 0 {
		return errors.New("no gears to write into a profile; the reasons are above")
	}
	p, notes := withDrivetrain(start, found)
	p, err = learnNumbers(stderr, rides, p, notes)
	if err != nil {
		return err
	}
	text, err := p.YAML(notes)
	if err != nil {
		return err
	}
	write := func(w io.Writer) error { _, err := w.Write(text); return err }
	if f.out == "" {
		err = write(stdout)
	} else {
		err = out.Write(f.out, write)
	}
	if err == nil {
		err = out.Commit()
	}
	if err == nil && bad > 0 {
		err = &partialError{bad, len(paths)}
	}
	return err
}

// start is the profile that keeps whatever the rides cannot tell.
func (f learnFlags) start() (*bike.Profile, error) {
	if f.bike != "" {
		return readProfile(f.bike)
	}
	text, err := bike.Template(bike.Essentials{Tyre: f.tyre})
	if err != nil {
		return nil, &usageError{err}
	}
	return bike.Parse(text, "new profile")
}

func (f learnFlags) rides(ctx context.Context, stderr io.Writer, paths []string) (rides []*ride.Ride, bad int, err error) {
	o, err := readOptions(f.columns)
	if err != nil {
		return nil, 0, err
	}
	logs := &logReader{options: o}
	for _, path := range paths {
		if err := ctx.Err(); err != nil {
			return nil, bad, err
		}
		found, err := logs.rides(path)
		if err != nil {
			bad++
			fmt.Fprintf(stderr, "cogledger: %v\n", err)
			continue
		}
		rides = append(rides, found...)
	}
	if len(rides) == 0 {
		return nil, bad, errors.New("no ride could be read; the reasons are above")
	}
	return rides, bad, nil
}

// known is what the user says of the drivetrain, and the profile where the
// user gave one.
func (f learnFlags) known(start *bike.Profile) (gears.Known, error) {
	k := gears.Known{Chainrings: f.chainrings, Cogs: f.cogs, HubGears: f.hubGears, Circumference: f.rollout / 1000}
	if f.tyre != "" && f.rollout == 0 {
		c, err := bike.TyreCircumference(f.tyre)
		if err != nil {
			return k, &usageError{err}
		}
		k.Circumference = c
	}
	if f.bike == "" {
		return k, nil
	}
	k.Drive = start.Drive
	if k.Circumference == 0 {
		k.Circumference = start.Circumference()
	}
	if len(k.Chainrings)+len(k.Cogs)+len(k.HubGears) == 0 {
		k.Chainrings, k.HubGears = start.Drivetrain.Chainrings, start.Drivetrain.HubGears
		if len(k.HubGears) > 0 {
			k.Cogs = start.Drivetrain.Cogs
		}
	}
	return k, nil
}

// printLearnt lists the gears found, and the picture of the developments.
func printLearnt(w io.Writer, l *gears.Learnt) error {
	for _, n := range l.Notes {
		fmt.Fprintf(w, "note: %s\n", n)
	}
	if !l.Steps {
		_, err := fmt.Fprintln(w, "no steps were found: the drivetrain seems to be continuously variable, or was never ridden steadily")
		return err
	}
	fmt.Fprintf(w, "%.0f s of steady pedalling, %.0f %% of it within 1.5 %% of a gear found\n", l.Steady, 100*l.Explained)
	most := 0.0
	for _, x := range l.Lines {
		most = max(most, x.Seconds)
	}
	for _, x := range l.Lines {
		name := "?"
		if x.Ring > 0 && x.Cog > 0 {
			name = bike.Gear{Front: x.Ring, Rear: x.Cog, HubStep: x.HubStep}.String()
		}
		bar := strings.Repeat("#", int(math.Ceil(40*x.Seconds/most)))
		fmt.Fprintf(w, "%-14s %6.3f m (%.3f to %.3f) %6.0f s  sure %3.0f %%  %s\n", name, x.Development, x.Low, x.High, x.Seconds, 100*x.Certainty, bar)
	}
	return nil
}

// withDrivetrain puts the gears found into the profile and says how sure they are.
func withDrivetrain(start *bike.Profile, l *gears.Learnt) (*bike.Profile, map[string]string) {
	p, notes := *start, l.LineNotes()
	p.Drivetrain = bike.Drivetrain{Chainrings: l.Chainrings, Cogs: l.Cogs, HubGears: l.HubGears}
	p.Wheel = bike.Wheel{Tyre: start.Wheel.Tyre, RolloutMM: math.Round(1e4*l.Circumference) / 10}
	notes["wheel.tyre"] = notes["wheel.rollout_mm"] // one line of the profile holds either
	return &p, notes
}

// learnNumbers learns battery, motor and drag where the rides hold them.
func learnNumbers(stderr io.Writer, rides []*ride.Ride, p *bike.Profile, notes map[string]string) (*bike.Profile, error) {
	var reads []learn.Read
	for _, r := range rides {
		res, err := analysis.Review(r, p, analysis.Options{SkipDoubt: true, SkipReplays: true})
		if err != nil {
			return nil, err
		}
		reads = append(reads, learn.Read{Ride: r, Gears: res.Gears, Road: res.Road, Drive: res.Drive})
	}
	found := learn.All(reads, p)
	for _, err := range found.Refused {
		fmt.Fprintf(stderr, "not learnt: %v\n", err)
	}
	for _, x := range found.Learnt {
		notes[x.Key] = fmt.Sprintf("learnt: %.3g to %.3g in nine cases out of ten", x.Figure.Low, x.Figure.High)
		fmt.Fprintf(stderr, "learnt: %s %.4g (%.4g to %.4g), was %.4g\n", x.Key, x.Figure.Value, x.Figure.Low, x.Figure.High, x.Was)
	}
	return found.Apply(p), nil
}
