package fleet

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base32"
)

// LeastGroup is the default for the smallest number of different bikes, and of
// riders where they are known, behind anything that a private report shows of a
// group or a place. Common practice in publishing statistics on people.
const LeastGroup = 5

// Pseudonyms hides names. The same key gives the same pseudonyms, so that
// reports can be compared; without the key a pseudonym cannot be traced to its
// name, nor be checked against a guess.
type Pseudonyms struct{ Key []byte }

// Of gives the pseudonym of a name among its kind ("bike", "rider"). An empty
// name stays empty.
func (p Pseudonyms) Of(kind, name string) string {
	if name == "" {
		return ""
	}
	mac := hmac.New(sha256.New, p.Key)
	mac.Write([]byte(kind + "\x00" + name))
	code := base32.NewEncoding("0123456789ABCDEFGHJKMNPQRSTVWXYZ").EncodeToString(mac.Sum(nil)[:5])
	return kind + " " + code[:4] + "-" + code[4:]
}
