package randombatch

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"shelfspan/analysis/pooling"
)

// dense is the restricted log likelihood by the matrices of its definition, V of
// all results at once (Patterson & Thompson 1971), for the covariance of
// intercepts and slopes at time 0.
func dense(batches []pooling.Batch, d00, d01, d11, variance float64) float64 {
	var x, y []float64
	var of []int
	for i, b := range batches {
		for j := range b.X {
			x, y, of = append(x, b.X[j]), append(y, b.Y[j]), append(of, i)
		}
	}
	n := len(x)
	v := mat.NewSymDense(n, nil)
	design := mat.NewDense(n, 2, nil)
	for i := range n {
		design.SetRow(i, []float64{1, x[i]})
		for j := i; j < n; j++ {
			if of[i] == of[j] {
				v.SetSym(i, j, d00+d01*(x[i]+x[j])+d11*x[i]*x[j])
			}
		}
		v.SetSym(i, i, v.At(i, i)+variance)
	}
	var triangle, inner mat.Cholesky
	if !triangle.Factorize(v) {
		return math.Inf(-1)
	}
	var solved, cross mat.Dense
	_ = triangle.SolveTo(&solved, design)
	cross.Mul(design.T(), &solved)
	inner.Factorize(mat.NewSymDense(2, []float64{cross.At(0, 0), cross.At(0, 1), cross.At(0, 1), cross.At(1, 1)}))
	r := mat.NewVecDense(n, y)
	var moment, beta, fitted, rest, weighed mat.VecDense
	moment.MulVec(solved.T(), r)
	_ = inner.SolveVecTo(&beta, &moment)
	fitted.MulVec(design, &beta)
	rest.SubVec(r, &fitted)
	_ = triangle.SolveVecTo(&weighed, &rest)
	return -(float64(n-2)*math.Log(2*math.Pi) + triangle.LogDet() + inner.LogDet() + mat.Dot(&rest, &weighed)) / 2
}

// anyStudy has two whole batches and others with one to seven results.
func anyStudy(t *rapid.T) []pooling.Batch {
	random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	sa, sb := rapid.SampledFrom([]float64{0, 0.3, 1, 5}).Draw(t, "sa"), rapid.SampledFrom([]float64{0, 0.02, 0.1, 0.5}).Draw(t, "sb")
	var times [][]float64
	for i := range rapid.IntRange(2, 8).Draw(t, "batches") {
		at := append([]float64(nil), pulls...)
		if i > 1 {
			random.Shuffle(len(at), func(i, j int) { at[i], at[j] = at[j], at[i] })
			at = at[:1+random.IntN(len(at))]
		}
		times = append(times, at)
	}
	return draw(random, times, sa, sb)
}

// The likelihood told is that of the definition at the parameters told, and no
// parameters near them or far off have a greater one.
func TestMaximum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		batches := anyStudy(t)
		f, err := REML(batches)
		if err != nil {
			t.Fatal(err)
		}
		d00, d01, d11, s2 := f.InterceptSD*f.InterceptSD, f.covariance(), f.SlopeSD*f.SlopeSD, f.ResidualSD*f.ResidualSD
		told := dense(batches, d00, d01, d11, s2)
		if math.Abs(told-f.LogLikelihood) > 1e-8*(1+math.Abs(told)) {
			t.Fatalf("log likelihood %.12g, by its definition %.12g", f.LogLikelihood, told)
		}
		// Any covariance near or far: the triangle of that told with its elements
		// moved, in units of the results' error.
		b := 0.0
		if f.InterceptSD > 0 {
			b = d01 / f.InterceptSD
		}
		c := math.Sqrt(max(0, d11-b*b))
		for range 20 {
			spread := math.Pow(10, rapid.Float64Range(-4, 0.5).Draw(t, "spread"))
			by := func(what string) float64 {
				return spread * f.ResidualSD * rapid.Float64Range(-1, 1).Draw(t, what)
			}
			a, b, c := f.InterceptSD+by("a"), b+by("b")/15, c+by("c")/15
			other := dense(batches, a*a, a*b, b*b+c*c, s2*math.Exp(by("variance")/f.ResidualSD))
			if other > f.LogLikelihood+1e-8*(1+math.Abs(told)) {
				t.Fatalf("log likelihood %.12g at another covariance, %.12g at the answer of rank %d", other, f.LogLikelihood, f.Rank)
			}
		}
	})
}

// At the answer K leads nowhere lower among covariances, K·G = 0 and K positive
// semidefinite, which holds at boundaries too; and the derivatives are those of
// the deviance.
func TestDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := newLikelihood(newDesign(anyStudy(t)))
		o := l.search()
		if small, _, _ := o.k.eigen(); small < -1e-5 {
			t.Fatalf("K %v of rank %d leads inside", o.k, o.rank)
		}
		if kg := math.Abs(o.k.inner(o.covariance())); kg > 1e-6 {
			t.Fatalf("K·G has the trace %g", kg)
		}
		at := factor{o.a + 0.3, o.b - 0.2, o.c + 0.4}
		h := l.curvature(l.at(at), 2)
		p := h.profiled()
		const e = 1e-5
		for j := range 3 {
			up, down := at, at
			switch j {
			case 0:
				up.a, down.a = up.a+e, down.a-e
			case 1:
				up.b, down.b = up.b+e, down.b-e
			default:
				up.c, down.c = up.c+e, down.c-e
			}
			su := l.at(up)
			hu := l.curvature(su, 2)
			sd := l.at(down)
			hd := l.curvature(sd, 2)
			if slope := (su.deviance - sd.deviance) / (2 * e); math.Abs(slope-h.gradient[j]) > 1e-5*(1+math.Abs(slope)) {
				t.Fatalf("derivative %d is %v, by differences %v", j, h.gradient[j], slope)
			}
			for i := range 3 {
				if bend := (hu.gradient[i] - hd.gradient[i]) / (2 * e); math.Abs(bend-p[i][j]) > 1e-5*(1+math.Abs(bend)) {
					t.Fatalf("second derivative %d, %d is %v, by differences %v", i, j, p[i][j], bend)
				}
			}
		}
	})
}
