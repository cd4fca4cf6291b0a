package simultaneous

import (
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/mathext"
)

// lattices are rank-1 lattices of n points i·generator/n modulo 1, i = 0 … n−1. The
// generators were built component by component to the least mean square error
// over random shifts, or what is the same, the least Σᵢ Πⱼ (1 + γⱼ·ω({i·gⱼ/n})),
// ω(x) = 2π²(x² − x + 1/6) and γⱼ = 1/j, among gⱼ ≤ n/2, the least of equal ones
// (Sloan & Reztsov, Mathematics of Computation 71, 2002, 263–273).
var lattices = []struct {
	n         int
	generator [32]int
}{
	{1021, [32]int{1, 374, 156, 285, 305, 253, 486, 347, 399, 478, 228, 352, 15, 208, 213, 332,
		82, 280, 99, 290, 233, 109, 270, 119, 223, 337, 295, 114, 176, 124, 404, 166}},
	{4093, [32]int{1, 1210, 1542, 1785, 424, 2011, 1718, 1807, 387, 1428, 1088, 1026, 1175, 1738, 704, 1242,
		1557, 1051, 139, 989, 238, 1113, 890, 1651, 171, 1185, 1837, 124, 305, 1827, 1656, 233}},
	{16381, [32]int{1, 3711, 5711, 6593, 2765, 330, 8068, 7060, 6242, 7298, 4682, 1404, 300, 4137, 3459, 1615,
		5901, 4868, 5869, 4570, 5358, 2907, 6824, 5138, 4735, 4460, 2144, 3979, 284, 1796, 7147, 1418}},
	{65521, [32]int{1, 18303, 30219, 8331, 23238, 22984, 24563, 13920, 16584, 32039, 13436, 2293, 17768, 3522, 6438, 24407,
		27265, 27977, 25493, 14467, 3087, 17984, 6272, 13082, 11825, 5900, 8728, 27215, 12592, 15699, 15885, 6805}},
}

// shifts is how many independent random shifts of a lattice are taken, each an
// estimate by itself, and studentOfShifts the 0.995 quantile of Student's t on one
// fewer degrees of freedom (R 4.2.2, qt).
const (
	shifts          = 8
	studentOfShifts = 3.499483297350494
)

// overLattices takes m(U) at directions U = Z/|Z|, with Z the normal quantiles of the
// points of shifted lattices (Cranley & Patterson, SIAM Journal on Numerical
// Analysis 13, 1976, 904–914), of one lattice after the other until its error is
// small enough.
func (d *Distribution) overLattices(l [][]float64, seed uint64) (s sphere, directions int, worst float64) {
	var qs []float64
	for p := 0.2; p > 0.1/d.distinct; p /= 2 {
		qs = append(qs, d.quantileOfOne(p))
	}
	for level := range lattices {
		each := shifted(l, level, d.upper, seed)
		s = sphere{rank: d.Rank, df: d.df}
		var used []int // of the cells, those that any direction fell in
		for cell := range each[0] {
			sum, any := 0.0, false
			for _, weights := range each {
				sum += weights[cell]
				any = any || weights[cell] != 0
			}
			if any {
				used = append(used, cell)
				s.m, s.weights = append(s.m, node(cell)), append(s.weights, sum/shifts)
			}
		}
		directions += shifts * lattices[level].n
		worst = 0
		for _, q := range qs {
			var estimates [shifts]float64
			mean := 0.0
			for i, m := range s.m {
				p := exceeds(m, q, d.Rank, d.df)
				mean += s.weights[i] * p
				for k := range estimates {
					estimates[k] += each[k][used[i]] * p
				}
			}
			if mean > 0.2 {
				continue
			}
			square := 0.0
			for _, e := range estimates {
				square += (e - mean) * (e - mean)
			}
			worst = max(worst, studentOfShifts*math.Sqrt(square/(shifts*(shifts-1))))
		}
		if worst <= Wanted {
			break
		}
	}
	return s, directions, worst
}

// shifted gives, for each shift of a lattice, the distribution of m over its
// points as the weights of the nodes. Each shift has a stream of random numbers of
// its own, so that the number of cores does not matter.
func shifted(l [][]float64, level int, upper bool, seed uint64) [][]float64 {
	each := make([][]float64, shifts)
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), shifts) {
		wait.Go(func() {
			for k := next.Add(1) - 1; k < shifts; k = next.Add(1) - 1 {
				each[k] = overShift(l, level, upper, rand.New(rand.NewPCG(seed, uint64(level)<<8|uint64(k))))
			}
		})
	}
	wait.Wait()
	return each
}

func overShift(l [][]float64, level int, upper bool, random *rand.Rand) []float64 {
	n, r := lattices[level].n, len(l[0])
	step, at, z := make([]float64, r), make([]float64, r), make([]float64, r)
	for j := range r {
		if j < len(lattices[level].generator) {
			step[j] = float64(lattices[level].generator[j]) / float64(n)
		} else {
			// In so many dimensions a lattice is hardly better than random
			// points, and any generator will do.
			step[j] = float64(1+random.IntN(n-1)) / float64(n)
		}
		at[j] = random.Float64()
	}
	weights := make([]float64, 2*cells+1)
	share := 1 / float64(n)
	for range n {
		square := 0.0
		for j := range z {
			if at[j] += step[j]; at[j] >= 1 {
				at[j]--
			}
			z[j] = mathext.NormalQuantile(max(at[j], 0x1p-53))
			square += z[j] * z[j]
		}
		length := math.Sqrt(square)
		high, low := 0.0, 0.0
		if upper {
			high, low = math.Inf(-1), math.Inf(1)
		}
		for _, row := range l {
			sum := 0.0
			for j, v := range row {
				sum += v * z[j]
			}
			high, low = max(high, sum), min(low, sum)
		}
		if upper {
			// −U is as good as U.
			spread(weights, high/length, share/2)
			spread(weights, -low/length, share/2)
		} else {
			spread(weights, max(high, -low)/length, share)
		}
	}
	return weights
}

// cells is how many there are from m = 0 to 1, and as many from 0 to −1.
const cells = 256

func node(cell int) float64 { return float64(cell-cells) / cells }

// spread puts the weight of a direction on the four nodes about m, of the same
// sign as m, in the shares that give the mean of any cubic (Lagrange's). What is
// averaged is so smooth in m that this loses less than 1e-6.
func spread(weights []float64, m, share float64) {
	zero, sign := cells, 1
	if m < 0 {
		m, sign = -m, -1
	}
	x := min(m, 1) * cells
	first := min(max(int(x)-1, 0), cells-3)
	t := x - float64(first)
	a, b, c := t-1, t-2, t-3
	weights[zero+sign*first] -= share * a * b * c / 6
	weights[zero+sign*(first+1)] += share * t * b * c / 2
	weights[zero+sign*(first+2)] -= share * t * a * c / 2
	weights[zero+sign*(first+3)] += share * t * a * b / 6
}
