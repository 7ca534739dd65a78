package bike

import "slices"

// An Origin tells where a number of a profile came from, which decides how well it
// is known.
type Origin string

const (
	Typed    Origin = "profile" // somebody wrote it for this bike
	Default  Origin = "default" // nobody did: it is that of a like bike
	Learnt   Origin = "learnt"  // found in rides of this bike, with a tolerance of its own
	Measured Origin = "measured"
)

// Origins lists the dotted keys of numbers that were not just typed in. A number
// listed as a default is one only while its value is that of the default: who
// changes it has typed it.
type Origins struct {
	Default  []string `yaml:"default"`
	Learnt   []string `yaml:"learnt"`
	Measured []string `yaml:"measured"`
}

// OriginOf tells where the number of a dotted key came from.
func (p *Profile) OriginOf(key string) Origin {
	switch {
	case slices.Contains(p.Defaulted, key):
		return Default
	case slices.Contains(p.Origins.Learnt, key):
		return Learnt
	case slices.Contains(p.Origins.Measured, key):
		return Measured
	}
	return Typed
}

// SetOrigin says where a number came from; the other lists lose it.
func (p *Profile) SetOrigin(key string, o Origin) {
	without := func(list []string) []string {
		return slices.DeleteFunc(slices.Clone(list), func(k string) bool { return k == key })
	}
	p.Defaulted = without(p.Defaulted)
	p.Origins = Origins{without(p.Origins.Default), without(p.Origins.Learnt), without(p.Origins.Measured)}
	switch o {
	case Default:
		p.Defaulted = append(p.Defaulted, key)
		p.Origins.Default = append(p.Origins.Default, key)
	case Learnt:
		p.Origins.Learnt = append(p.Origins.Learnt, key)
	case Measured:
		p.Origins.Measured = append(p.Origins.Measured, key)
	}
}

// GuessedMotor lists the constants of the motor that nobody gave for this bike.
// The defaults are a geared motor's at the crank; one in the wheel, and a direct
// one above all, may differ tenfold.
func (p *Profile) GuessedMotor() []string {
	var guessed []string
	for _, key := range []string{"motor.torque_constant_nm_per_a", "motor.resistance_ohm", "motor.coulomb_torque_nm", "motor.viscous_nm_per_rad_s"} {
		if p.OriginOf(key) == Default {
			guessed = append(guessed, key)
		}
	}
	return guessed
}

// Guesses lists the numbers that nobody gave for this bike and that are known the
// worse for it.
func (p *Profile) Guesses() []string {
	var keys []string
	for _, n := range Numbers() {
		if n.Guess > n.Tolerance && n.In(p) != 0 && p.OriginOf(n.Key) == Default {
			keys = append(keys, n.Key)
		}
	}
	return keys
}

// defaulted lists what the file left out, by the keys it holds, and what it marks
// as a default and did not change.
func (p *Profile) defaulted(said map[string]bool) []string {
	var keys []string
	like := defaults()
	if len(p.Origins.Default) > 0 {
		like = *Example()
	}
	for _, n := range Numbers() {
		left := !said[n.Key] && n.In(p) != 0
		marked := slices.Contains(p.Origins.Default, n.Key) && n.In(p) == n.In(&like)
		if left || marked {
			keys = append(keys, n.Key)
		}
	}
	return keys
}
