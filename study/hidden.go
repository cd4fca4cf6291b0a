package study

import "unicode"

// Hidden reports a character that is not seen itself and changes what is seen or
// what a text is: control characters, which a terminal obeys; ends of lines; those
// that turn the direction of writing, so that 12 is read as 21; and those of no
// width, which make two names of one. The two joiners stay, without which some
// scripts cannot be written.
func Hidden(r rune) bool {
	switch {
	case r < 0x7f:
		return r < ' '
	case r == '\u200c' || r == '\u200d':
		return false
	}
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
}
