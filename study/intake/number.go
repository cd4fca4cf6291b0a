package intake

import (
	"bytes"
	"math"
	"strconv"
)

// powers of ten that a float64 holds exactly.
var powers = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// parseNumber reads a decimal number, [+-]digits[sign digits][e[+-]digits],
// rounded correctly; sign is '.' or, where comma is true, also ','. Nothing
// else is a number: no thousands separators, no hexadecimal, no nan or inf.
// decimal is the sign that was used, 0 where none was. ok is false too where
// the number is beyond what a float64 holds.
func parseNumber(b []byte, comma bool) (v float64, decimal byte, ok bool) {
	i, negative := 0, false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	var mantissa uint64
	digits, significant, exponent := 0, 0, 0
	for ; i < len(b); i++ {
		c := b[i]
		if c-'0' <= 9 {
			digits++
			if mantissa > 0 || c != '0' {
				significant++
			}
			if significant <= 18 {
				mantissa = mantissa*10 + uint64(c-'0')
			}
			if decimal != 0 {
				exponent--
			}
			continue
		}
		if decimal == 0 && (c == '.' || comma && c == ',') {
			decimal = c
			continue
		}
		break
	}
	if digits == 0 {
		return 0, decimal, false
	}
	if i < len(b) {
		if b[i]&^0x20 != 'E' {
			return 0, decimal, false
		}
		i++
		down, n, any := false, 0, false
		if i < len(b) && (b[i] == '-' || b[i] == '+') {
			down = b[i] == '-'
			i++
		}
		for ; i < len(b) && b[i]-'0' <= 9; i++ {
			n, any = min(n*10+int(b[i]-'0'), 1<<20), true
		}
		if !any || i < len(b) {
			return 0, decimal, false
		}
		if down {
			n = -n
		}
		exponent += n
	}
	// A mantissa below 2^53 times or over a power of ten up to 10^22 is two
	// exact numbers and one rounding.
	if significant <= 18 && mantissa < 1<<53 && exponent >= -22 && exponent <= 22 {
		v = float64(mantissa)
		if exponent < 0 {
			v /= powers[-exponent]
		} else {
			v *= powers[exponent]
		}
		if negative {
			v = -v
		}
		return v, decimal, true
	}
	text := string(b)
	if decimal == ',' {
		text = string(bytes.Replace(b, []byte{','}, []byte{'.'}, 1))
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsInf(v, 0) || v == 0 && mantissa != 0 {
		return 0, decimal, false
	}
	return v, decimal, true
}
