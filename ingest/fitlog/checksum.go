package fitlog

import "github.com/tormoder/fit/dyncrc16"

// sound reports whether bytes end with their own checksum. Tables of what a
// byte does from up to seven bytes on take eight at once, where the decoders'
// sums take half a byte.
func sound(data []byte) bool {
	var after [8][256]uint16
	for b := range 256 {
		after[0][b] = dyncrc16.Checksum([]byte{byte(b)})
	}
	for k := 1; k < len(after); k++ {
		for b, sum := range after[k-1] {
			after[k][b] = sum>>8 ^ after[0][byte(sum)]
		}
	}
	sum := uint16(0)
	for ; len(data) >= 8; data = data[8:] {
		sum = after[7][data[0]^byte(sum)] ^ after[6][data[1]^byte(sum>>8)] ^
			after[5][data[2]] ^ after[4][data[3]] ^ after[3][data[4]] ^ after[2][data[5]] ^ after[1][data[6]] ^ after[0][data[7]]
	}
	for _, b := range data {
		sum = sum>>8 ^ after[0][byte(sum)^b]
	}
	return sum == 0
}
