package fleetrun

import (
	"bytes"
	"os"
	"strconv"
)

// peakMB is the most memory that this process ever held, 0 where the system
// does not tell.
func peakMB() int {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for _, line := range bytes.Split(status, []byte("\n")) {
		if rest, found := bytes.CutPrefix(line, []byte("VmHWM:")); found {
			kb, _ := strconv.Atoi(string(bytes.TrimSuffix(bytes.TrimSpace(rest), []byte(" kB"))))
			return kb >> 10
		}
	}
	return 0
}
