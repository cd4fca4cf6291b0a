package linear

// Straight fits y = level + slope·(x − x̄) and gives the line with its residual
// sum of squares. The line's S is NaN where no degree of freedom is left. Where
// x does not vary it is a *RankError.
func Straight(x, y []float64) (line Line, rss float64, err error) {
	n := len(x)
	work := make([]float64, 2*n)
	one, centred := work[:n], work[n:]
	centre := 0.0
	for _, v := range x {
		centre += v / float64(n)
	}
	for i, v := range x {
		one[i], centred[i] = 1, v-centre
	}
	f, err := LeastSquares([]Column{{"the intercept", one}, {"time", centred}}, y)
	if err != nil {
		return Line{}, 0, err
	}
	return Line{
		Centre: centre, Level: f.Coefficients[0], Slope: f.Coefficients[1],
		LevelVar: f.Covariance[0], SlopeVar: f.Covariance[3], Cov: f.Covariance[1],
		S: f.ResidualSD(), DF: f.DF,
	}, f.RSS, nil
}
