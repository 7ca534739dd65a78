// Package script holds the chart library that interactive reports carry inside
// them. The library is third-party code and not part of the repository:
// fetch.sh puts it here before the build. A build without it still compiles,
// and its reports then show drawn charts instead of interactive ones.
package script

import "embed"

// File is the name under which fetch.sh stores the library.
const File = "echarts.min.js"

//go:embed echarts.*
var files embed.FS

// Source returns the library's code, and whether this build carries it.
func Source() (string, bool) {
	code, err := files.ReadFile(File)
	return string(code), err == nil
}
