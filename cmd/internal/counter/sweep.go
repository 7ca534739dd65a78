package counter

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// A server's folder carries the number of its process in its name, so that the
// next one finds what a killed one has left.
const (
	folderName  = "cogledger-counter-"
	unsignedAge = time.Hour // a folder without a number is taken for left after so long
)

// sweep removes what servers that are gone have left. What cannot be removed,
// another user's for one, stays.
func sweep(parent string) {
	if parent == "" {
		parent = os.TempDir()
	}
	left, err := filepath.Glob(filepath.Join(parent, folderName+"*"))
	if err != nil {
		return
	}
	for _, dir := range left {
		if info, err := os.Lstat(dir); err == nil && info.IsDir() && orphan(dir, info) {
			os.RemoveAll(dir)
		}
	}
}

func orphan(dir string, info fs.FileInfo) bool {
	text, _, signed := strings.Cut(strings.TrimPrefix(filepath.Base(dir), folderName), "-")
	number, err := strconv.Atoi(text)
	if !signed || err != nil {
		return time.Since(info.ModTime()) > unsignedAge
	}
	return number != os.Getpid() && !alive(number)
}

// alive reports whether there is a process of that number.
func alive(number int) bool {
	p, err := os.FindProcess(number)
	if err != nil {
		return false
	}
	if runtime.GOOS == "windows" {
		return true // it was found by opening it
	}
	err = p.Signal(syscall.Signal(0))
	return err == nil || errors.Is(err, syscall.EPERM)
}
