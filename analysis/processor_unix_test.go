//go:build unix

package analysis_test

import (
	"syscall"
	"time"
)

// processorTime is the time that the process has had processors for. The clock
// on the wall tells little on a busy machine.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
