package report

import (
	"io"

	"cogledger/analysis"
)

// WritePage is for tests that also write pages of packages which import this
// one.
func WritePage(w io.Writer, set *analysis.Set, o Options, library string) error {
	return writePage(w, set, o, library)
}

// StartScript is the page's own script.
func StartScript() string { return startScript }
