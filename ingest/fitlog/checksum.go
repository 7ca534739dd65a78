package fitlog

import "github.com/tormoder/fit/dyncrc16"

// sound reports whether bytes end with their own checksum. A table of what
// each byte does takes them whole, where the decoders' sums take halves.
func sound(data []byte) bool {
	var table [256]uint16
	for b := range table {
		table[b] = dyncrc16.Checksum([]byte{byte(b)})
	}
	sum := uint16(0)
	for _, b := range data {
		sum = sum>>8 ^ table[byte(sum)^b]
	}
	return sum == 0
}
