package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

func newMan() *cobra.Command {
	return &cobra.Command{
		Use:   "man DIR",
		Short: "Write the manual pages into a folder",
		Long: `man writes one manual page a command into DIR, in troff, section 1. The pages
carry the date in SOURCE_DATE_EPOCH where that is set.`,
		Example: `  # For yourself
  cogledger man ~/.local/share/man/man1 && man cogledger-review

  # A packager
  SOURCE_DATE_EPOCH=1767225600 cogledger man build/man1`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := args[0]
			if err := os.MkdirAll(dir, 0o777); err != nil {
				return err
			}
			root := cmd.Root()
			root.DisableAutoGenTag = true
			header := &doc.GenManHeader{Section: "1", Source: "cogledger " + version(), Manual: "cogledger"}
			if err := doc.GenManTree(root, header, dir); err != nil {
				return fmt.Errorf("manual pages: %w", err)
			}
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "manual pages: %s\n", dir)
			return err
		},
	}
}
