package fitlog

import (
	"encoding/binary"

	"github.com/tormoder/fit/dyncrc16"
)

// sound reports whether bytes end with their own checksum. Tables of what a
// byte does from up to fifteen bytes on take sixteen at once, where the
// decoders' sums take half a byte.
func sound(data []byte) bool {
	var after [16][256]uint16
	for b := range 256 {
		after[0][b] = dyncrc16.Checksum([]byte{byte(b)})
	}
	for k := 1; k < len(after); k++ {
		for b, sum := range after[k-1] {
			after[k][b] = sum>>8 ^ after[0][byte(sum)]
		}
	}
	sum := uint16(0)
	for ; len(data) >= 16; data = data[16:] {
		x, y := binary.LittleEndian.Uint64(data)^uint64(sum), binary.LittleEndian.Uint64(data[8:])
		sum = after[15][byte(x)] ^ after[14][byte(x>>8)] ^ after[13][byte(x>>16)] ^ after[12][byte(x>>24)] ^
			after[11][byte(x>>32)] ^ after[10][byte(x>>40)] ^ after[9][byte(x>>48)] ^ after[8][byte(x>>56)] ^
			after[7][byte(y)] ^ after[6][byte(y>>8)] ^ after[5][byte(y>>16)] ^ after[4][byte(y>>24)] ^
			after[3][byte(y>>32)] ^ after[2][byte(y>>40)] ^ after[1][byte(y>>48)] ^ after[0][byte(y>>56)]
	}
	for _, b := range data {
		sum = sum>>8 ^ after[0][byte(sum)^b]
	}
	return sum == 0
}
