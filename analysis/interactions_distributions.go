package analysis

import (
	"encoding/binary"
	"math"
	"sync"

	"gonum.org/v1/gonum/mat"

	"shelfspan/analysis/simultaneous"
)

// distributions keeps what was reckoned for families alike: attributes tested in
// the same arms at the same times differ in their results, and not in how their
// comparisons hang together.
type distributions struct{ kept sync.Map }

type distribution struct {
	critical float64
	of       *simultaneous.Distribution
	err      error
}

// get gives the distribution of a family's contrasts and its quantile.
func (d *distributions) get(contrasts [][]float64, covariance *mat.SymDense, df int, confidence float64) distribution {
	once := sync.OnceValue(func() distribution {
		of, err := simultaneous.New(contrasts, covariance, float64(df), simultaneousSeed)
		if err != nil {
			return distribution{err: err}
		}
		critical, err := of.Critical(confidence)
		return distribution{critical, of, err}
	})
	kept, _ := d.kept.LoadOrStore(familyKey(contrasts, covariance, df), once)
	return kept.(func() distribution)()
}

// familyKey is the same for families whose contrasts have the same correlations,
// to nine digits, on as many degrees of freedom.
func familyKey(contrasts [][]float64, covariance *mat.SymDense, df int) string {
	k := len(contrasts)
	products := make([]float64, k*k)
	n := covariance.SymmetricDim()
	half := make([]float64, n)
	for i, c := range contrasts {
		for a := range n {
			half[a] = 0
			for b, w := range c {
				if w != 0 {
					half[a] += w * covariance.At(a, b)
				}
			}
		}
		for j, e := range contrasts {
			for a, w := range e {
				products[i*k+j] += w * half[a]
			}
		}
	}
	key := binary.LittleEndian.AppendUint64(nil, uint64(df))
	for i := range k {
		for j := range i {
			r := products[i*k+j] / math.Sqrt(products[i*k+i]*products[j*k+j])
			key = binary.LittleEndian.AppendUint64(key, uint64(int64(math.Round(r*1e9))))
		}
	}
	return string(binary.LittleEndian.AppendUint64(key, uint64(k)))
}
