//go:build !unix

package analysis_test

import "time"

// processorTime is the clock's time where the processor's cannot be asked for.
func processorTime() time.Duration { return time.Duration(time.Now().UnixNano()) }
