package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"cogledger/cmd/internal/output"
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
			root := cmd.Root()
			root.DisableAutoGenTag = true
			if err := writeManual(root, args[0]); err != nil {
				return err
			}
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "manual pages: %s\n", args[0])
			return err
		},
	}
}

// writeManual writes the pages of a command and of all below it. They hold
// nobody's data, and whoever uses the machine may read them.
func writeManual(root *cobra.Command, dir string) error {
	out := &output.Files{Public: true}
	defer out.Discard()
	pages := manualPages(root, dir)
	for _, p := range pages {
		if err := out.Plan("man", p.path, output.OwnManual); err != nil {
			return err
		}
	}
	for _, p := range pages {
		header := doc.GenManHeader{Section: "1", Source: "cogledger " + version(), Manual: "cogledger"}
		if err := out.Write(p.path, func(w io.Writer) error { return doc.GenMan(p.command, &header, w) }); err != nil {
			return fmt.Errorf("manual pages: %w", err)
		}
	}
	return out.Commit()
}

type manualPage struct {
	command *cobra.Command
	path    string
}

func manualPages(cmd *cobra.Command, dir string) []manualPage {
	name := strings.ReplaceAll(cmd.CommandPath(), " ", "-") + ".1"
	all := []manualPage{{cmd, filepath.Join(dir, name)}}
	for _, sub := range cmd.Commands() {
		if sub.IsAvailableCommand() && !sub.IsAdditionalHelpTopicCommand() {
			all = append(all, manualPages(sub, dir)...)
		}
	}
	return all
}
