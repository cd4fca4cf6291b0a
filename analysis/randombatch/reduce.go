package randombatch

import (
	"math"

	"shelfspan/analysis/pooling"
)

// reduced is a batch brought down to what the likelihood sees of it: with Q·R its
// design [unit, unit·(t − centre)/scale], the triangle R, the rotated results
// c = Qᵀy and the sum of squares about its own line.
type reduced struct {
	r11, r12, r22 float64 // r22 is 0 where the batch has one time alone
	c1, c2        float64
	rss           float64
}

// own is the line of the batch itself, on the coordinates of the design, with
// its unscaled covariance (RᵀR)⁻¹. The batch has two times.
func (b *reduced) own() (line vector, covariance sym) {
	line.b = b.c2 / b.r22
	line.a = (b.c1 - b.r12*line.b) / b.r11
	i11, i22 := 1/b.r11, 1/b.r22
	i12 := -b.r12 * i11 * i22
	return line, sym{i11*i11 + i12*i12, i12 * i22, i22 * i22}
}

// design is the data brought down, and the coordinates they are in: the mean
// time of all results is 0 and the root mean square of times 1, so that summed over
// batches RᵀR is a multiple of the identity, and with unit = 1/√(results a batch)
// that multiple is the number of batches. A covariance of random effects of the
// size of the identity, relative to the residual variance, is then one that the
// data of a batch just tell from none. Results are taken from their mean and
// divided by their greatest distance from it.
type design struct {
	batches       []reduced
	centre, scale float64 // of time
	unit          float64
	origin, size  float64 // of results
	rounding      float64 // of a result, in the size
	n, freedom    int     // results, and degrees of freedom within batches
	rss           float64 // within batches
	lines         int     // batches with a line of their own
}

// at is the vector that takes coefficients to the value of their line at t.
func (d *design) at(t float64) vector { return vector{d.unit, d.unit * (t - d.centre) / d.scale} }

// sameTime is the part of the spread of all times below which a batch's times
// are one.
const sameTime = 1e-9

// newDesign brings the batches, all of which have results, down. Where all times
// are the same to the last digit, scale is 0 and nothing else is good.
func newDesign(batches []pooling.Batch) *design {
	d := &design{batches: make([]reduced, len(batches))}
	for _, b := range batches {
		d.n += len(b.X)
	}
	n := float64(d.n)
	for _, b := range batches {
		for j, x := range b.X {
			d.centre += x / n
			d.origin += b.Y[j] / n
		}
	}
	largest := 0.0
	for _, b := range batches {
		for j, x := range b.X {
			d.scale += (x - d.centre) * (x - d.centre) / n
			d.size = max(d.size, math.Abs(b.Y[j]-d.origin))
			largest = max(largest, math.Abs(b.Y[j]))
		}
	}
	d.scale = math.Sqrt(d.scale)
	switch {
	case largest == 0:
		d.size = 1
	case d.size <= n*epsilon*largest:
		d.size = largest // all results are the same
	}
	d.rounding = n * epsilon * largest / d.size
	d.unit = math.Sqrt(float64(len(batches)) / n)
	for i, b := range batches {
		d.batches[i] = d.reduce(b)
		d.rss += d.batches[i].rss
		d.freedom += len(b.X) - 1
		if d.batches[i].r22 > 0 {
			d.freedom--
			d.lines++
		}
	}
	return d
}

// reduce is the QR decomposition of a design of two columns in closed form, from
// the batch's own means, so that nothing cancels. A sum of squares that is no more
// than rounding of the results is zero.
func (d *design) reduce(b pooling.Batch) reduced {
	n := float64(len(b.X))
	var r reduced
	var x, y float64
	for j := range b.X {
		x += (b.X[j] - d.centre) / d.scale / n
		y += (b.Y[j] - d.origin) / d.size / n
	}
	var xx, xy float64
	for j := range b.X {
		u := (b.X[j]-d.centre)/d.scale - x
		xx += u * u
		xy += u * ((b.Y[j]-d.origin)/d.size - y)
	}
	root := math.Sqrt(n)
	r.r11, r.r12, r.c1 = d.unit*root, d.unit*root*x, root*y
	slope := 0.0
	if spread := math.Sqrt(xx); spread > sameTime*root {
		r.r22, r.c2 = d.unit*spread, xy/spread
		slope = xy / xx
	}
	for j := range b.X {
		e := (b.Y[j]-d.origin)/d.size - y - slope*((b.X[j]-d.centre)/d.scale-x)
		r.rss += e * e
	}
	if r.rss <= n*d.rounding*d.rounding {
		r.rss = 0
	}
	return r
}

const epsilon = 0x1p-52
