package main

import "github.com/spf13/cobra"

// completeLogs offers the files that can be logs of rides.
func completeLogs(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
	return []string{"fit", "gpx", "tcx", "csv", "txt", "gz", "zip"}, cobra.ShellCompDirectiveFilterFileExt
}

// completeFlags tells the shell what the flags that several commands share
// take.
func completeFlags(cmd *cobra.Command) {
	choices := map[string][]string{"units": {"metric", "imperial"}, "paper": {"a4", "letter"}}
	for _, name := range []string{"bike", "columns", "with"} {
		if cmd.Flags().Lookup(name) != nil {
			must(cmd.MarkFlagFilename(name, "yaml", "yml"))
		}
	}
	for name, words := range choices {
		if cmd.Flags().Lookup(name) != nil {
			must(cmd.RegisterFlagCompletionFunc(name, cobra.FixedCompletions(words, cobra.ShellCompDirectiveNoFileComp)))
		}
	}
}

// must is for wiring that fails only when the program is written wrongly.
func must(err error) {
	if err != nil {
		panic(err)
	}
}
