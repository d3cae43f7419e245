package spots

import (
	"math"

	"balk/coverage/chance"
)

// confidence is that of all bounds and intervals.
const confidence = 0.95

// bounds are the exact two-sided bounds (Clopper & Pearson 1934) of a share of which k of n were seen, by quantiles of
// the beta distribution: the lower one is the share at which k or more would come by a chance of only (1 − c)/2, the upper
// one that at which k or fewer would. n and k need not be whole: see effective.
func bounds(k, n, c float64) (lower, upper float64) {
	upper = 1
	if k > 0 {
		lower = chance.BetaQuantile((1-c)/2, k, n-k+1)
	}
	if k < n {
		upper = chance.BetaQuantile((1+c)/2, k+1, n-k)
	}
	return lower, upper
}

// atLeast is the one-sided lower bound of a share of which k of n were seen.
func atLeast(k, n, c float64) float64 {
	if k <= 0 {
		return 0
	}
	return chance.BetaQuantile(1-c, k, n-k+1)
}

// Provable is the share of places that n checks without a fault prove, one-sided at 95 %: p with pⁿ = 0.05.
func Provable(n int) float64 {
	if n <= 0 {
		return 0
	}
	return math.Pow(1-confidence, 1/float64(n))
}

// between is the share of all values that lie between the least and the greatest of n, at least, with the confidence c (Wilks
// 1941): that share is distributed as beta(n − 1, 2), whatever the distribution of the values.
func between(n int, c float64) float64 {
	if n < 2 {
		return 0
	}
	return chance.BetaQuantile(1-c, float64(n-1), 2)
}

// toleranceFactor k makes mean ± k·deviation of n normal values hold at least a share of all of them, with the confidence c
// (Howe 1969): k = z·√((n − 1)(1 + 1/n)/χ²), with z the quantile that holds the share two-sided, χ² the (1 − c)-quantile of
// n − 1 degrees of freedom.
func toleranceFactor(n int, share, c float64) float64 {
	if n < 2 {
		return math.Inf(1)
	}
	f := float64(n - 1)
	return chance.NormalQuantile((1+share)/2) * math.Sqrt(f*(1+1/float64(n))/chance.ChiSquareQuantile(1-c, f))
}

// effective is how many checks count where those of one group share its fault wholly: Kish's (1965) number of weights for an
// intraclass correlation of 1, (Σm)²/Σm², never more than there are groups. The exact bounds are then taken with n and k
// scaled to it (Korn & Graubard 1998). It is the safe end: checks of one pass may agree less than that.
func effective(groups []int) float64 {
	sum, squares := 0, 0
	for _, m := range groups {
		sum += m
		squares += m * m
	}
	if squares == 0 {
		return 0
	}
	return float64(sum) * float64(sum) / float64(squares)
}
