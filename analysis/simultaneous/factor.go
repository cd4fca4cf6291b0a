package simultaneous

import "math"

// factor is the distribution where the correlations of the contrasts are those of
// one factor, ρᵢⱼ = λᵢλⱼ for i ≠ j: Tᵢ = (λᵢZ₀ + √(1−λᵢ²)·Zᵢ)/S with independent Z.
// Then, as Dunnett (Journal of the American Statistical Association 50, 1955,
// 1096–1121) has it for one-sided comparisons with a control,
//
//	P(max|Tᵢ| ≤ q) = E Πᵢ [Φ((qS − λᵢZ₀)/√(1−λᵢ²)) − Φ((−qS − λᵢZ₀)/√(1−λᵢ²))]
//
// over Z₀ and S, each by the trapezoidal rule. Of max Tᵢ the second Φ is left out.
// What is inside the mean over S hangs on x = qS alone, so it is worked out once
// for x at steps of ln x, and each q only moves the density of ln S along them.
type factor struct {
	lambda, rest []float64 // λᵢ, and √2·√(1−λᵢ²)
	df           float64
	upper        bool

	z, weights []float64 // of Z₀; the weights add to 1

	step         float64   // of ln x; not for ν = +Inf
	lowest       int       // ln x = lowest·step is the first of the tables
	above, below []float64 // P(max > x) at x and at −x, the latter for max Tᵢ only
	atZero       float64
}

// steepest is the greatest 1/(1−λ²) that is dealt with: beyond, where the estimate of
// the control is far worse than that of a treatment, the nodes would be too many.
const steepest = 1e4

// oneFactor finds the λ of standardised contrasts l, if they are of one factor.
func oneFactor(l [][]float64, df float64, upper bool) (factor, bool) {
	k := len(l)
	if len(l[0]) != k {
		return factor{}, false // with all λ² < 1 the rank is full
	}
	f := factor{lambda: make([]float64, k), rest: make([]float64, k), df: df, upper: upper}
	// λ of the contrast that correlates most: λᵢ² = ρᵢⱼρᵢₘ/ρⱼₘ, with the j and m that
	// it correlates with most.
	rho := func(i, j int) float64 { return product(l[i], l[j]) }
	pivot, most := 0, 0.0
	for i := range l {
		sum := 0.0
		for j := range l {
			if j != i {
				sum += rho(i, j) * rho(i, j)
			}
		}
		if sum > most*(1+1e-9) {
			pivot, most = i, sum
		}
	}
	j, m := -1, -1
	for i := range l {
		switch r := math.Abs(rho(pivot, i)); {
		case i == pivot:
		case j < 0 || r > math.Abs(rho(pivot, j)):
			j, m = i, j
		case m < 0 || r > math.Abs(rho(pivot, m)):
			m = i
		}
	}
	square := rho(pivot, j) * rho(pivot, m) / rho(j, m)
	if math.Sqrt(most) < 1e-9 {
		square = 0 // all are independent
	} else if !(square > 0 && square < 1) {
		return factor{}, false
	}
	steep := 1.0
	for i := range l {
		switch {
		case i == pivot:
			f.lambda[i] = math.Sqrt(square)
		case square > 0:
			f.lambda[i] = rho(pivot, i) / math.Sqrt(square)
		}
		rest := 1 - f.lambda[i]*f.lambda[i]
		if !(rest > 1/steepest) {
			return factor{}, false
		}
		f.rest[i] = math.Sqrt(2 * rest)
		steep = max(steep, 1/rest)
		for j := range i {
			if math.Abs(f.lambda[i]*f.lambda[j]-rho(i, j)) > 1e-9 {
				return factor{}, false
			}
		}
	}
	f.overZ(steep)
	if !math.IsInf(df, 1) {
		f.overS()
	}
	return f, true
}

// trapezoid is the step at which the trapezoidal rule errs by e⁻¹⁸ of a normal
// density of variance 1/c, exp(−2π²/(c·h²)) (Trefethen & Weideman, SIAM Review 56,
// 2014, 385).
func trapezoid(c float64) float64 { return math.Sqrt(2 * math.Pi * math.Pi / 18 / c) }

// overZ sets the nodes of Z₀. The greatest of many independent |Zᵢ| is spread by no
// less than a third or so, so that as a function of Z₀ the product rises and falls no
// faster than a normal density of variance (1−λ²)/9λ².
func (f *factor) overZ(steep float64) {
	const most = 6.5 // 1e-10 lies beyond
	step := trapezoid(1 + 9*(steep-1))
	from := -int(most / step)
	if !f.upper {
		from = 0 // the product is even in Z₀
	}
	sum := 0.0
	for i := from; i <= int(most/step); i++ {
		z := step * float64(i)
		w := math.Exp(-z * z / 2)
		if i == 0 && !f.upper {
			w /= 2
		}
		f.z, f.weights = append(f.z, z), append(f.weights, w)
		sum += w
	}
	for i := range f.weights {
		f.weights[i] /= sum
	}
}

// overS fills the tables. The logarithm of S is spread as a normal density of variance
// 1/2ν, and P(max > x) over ln x by no less than a third over the x, 5 or less, at
// which it falls. From x = 9.2 up it is zero, and up to 0.001 straight.
func (f *factor) overS() {
	f.step = trapezoid(2*f.df + 225)
	f.lowest = int(math.Floor(math.Log(0.001) / f.step))
	f.atZero = f.given(0)
	for i := f.lowest; float64(i)*f.step < math.Log(9.2); i++ {
		x := math.Exp(float64(i) * f.step)
		f.above = append(f.above, f.given(x))
		if f.upper {
			f.below = append(f.below, f.given(-x))
		}
	}
}

// inside is P(max > x) at ln |x| = i·step, from the table of the sign of x, end beyond
// its last.
func (f factor) inside(table []float64, end float64, i int) float64 {
	switch i -= f.lowest; {
	case i >= len(table):
		return end
	case i >= 0:
		return table[i]
	default:
		return f.atZero + (table[0]-f.atZero)*math.Exp(float64(i)*f.step)
	}
}

func (f factor) beyond(q float64) float64 {
	if math.IsInf(f.df, 1) {
		return f.given(q)
	}
	if q == 0 {
		return f.atZero
	}
	table, end := f.above, 0.0
	if q < 0 {
		table, end = f.below, 1
	}
	centre := math.Log(math.Abs(q))
	sum, total := 0.0, 0.0
	add := func(i int) bool {
		v := float64(i)*f.step - centre // ln S
		w := math.Exp(f.df * (v - math.Expm1(2*v)/2))
		sum += w * f.inside(table, end, i)
		total += w
		return w > 1e-18*min(1, f.df*f.step) // below the mode they fall by e^{−ν·step} a step at slowest
	}
	middle := int(math.Round(centre / f.step))
	for i := middle; add(i); i++ {
	}
	for i := middle - 1; add(i); i-- {
	}
	return sum / total
}

// given is P(max > x) for S = 1. The probability that any exceeds is built up from
// the small ones, so that it keeps its digits.
func (f factor) given(x float64) float64 {
	sum := 0.0
	for n, z := range f.z {
		any := 0.0
		for i, lambda := range f.lambda {
			mean := lambda * z
			one := math.Erfc((x-mean)/f.rest[i]) / 2
			if !f.upper {
				one += math.Erfc((x+mean)/f.rest[i]) / 2
			}
			any += one * (1 - any)
		}
		sum += f.weights[n] * any
	}
	return sum
}
