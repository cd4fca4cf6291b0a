package unitid

// alphabet holds the characters of ISO 7064 MOD 37,36 by their values.
const alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

// CheckCharacter gives the check character of a text by ISO 7064 MOD 37,36. With
// a(j) the values of its digits and letters from the left (0 to 9, and A to Z as
// 10 to 35, of either case; all else is passed over), P(1) = 36 and
//
//	S(j) = (P(j) + a(j)) mod 36, or 36 where that is 0
//	P(j+1) = 2·S(j) mod 37
//
// it is the character that makes P + a ≡ 1 (mod 36) at the end. It finds every
// single wrong character, and two neighbours exchanged but for 36 of the 22,680
// combinations of a state P and two different characters, whose values follow
// each other.
//
// Source: ISO/IEC 7064:2003, hybrid systems.
func CheckCharacter(text string) byte {
	p := 36
	for i := range len(text) {
		v := valueOf(text[i])
		if v < 0 {
			continue
		}
		s := (p + v) % 36
		if s == 0 {
			s = 36
		}
		p = 2 * s % 37
	}
	return alphabet[(37-p)%36]
}

// valueOf gives the value of a digit or letter, −1 of anything else.
func valueOf(c byte) int {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0')
	case c >= 'A' && c <= 'Z':
		return int(c-'A') + 10
	case c >= 'a' && c <= 'z':
		return int(c-'a') + 10
	}
	return -1
}
