# The greatest of several t statistics where a double integral gives it: comparisons
# with a control by Dunnett's, and all pairs of equal groups by that of the range, both by
# integrate(), held against mvtnorm (Debian's r-cran-mvtnorm) and ptukey as it goes.
# Run in this folder, which takes a minute: Rscript exact.R
# It writes dunnett.csv and tukey.csv. Made with R 4.2.2, mvtnorm 1.1-3.
suppressMessages(library(mvtnorm))
set.seed(20)
w <- function(d, file) { for (j in names(d)) if (is.double(d[[j]])) d[[j]] <- sprintf("%.15g", d[[j]])
  write.csv(d, file, row.names = FALSE, quote = FALSE) }

# P(max > q) of k comparisons with a control, rho = n_i/(n_i+n_0)-wise: lambda_i =
# sqrt(n_i/(n_i+n_0)); outer integral over s, inner over z, both by integrate().
given <- function(x, lambda, two) { rest <- sqrt(1 - lambda^2)
  f <- function(z) dnorm(z) * (1 - vapply(z, function(u) prod(pnorm((x - lambda * u) / rest) -
         if (two) pnorm((-x - lambda * u) / rest) else 0), 0))
  integrate(f, -8, 8, rel.tol = 1e-11, abs.tol = 1e-13, subdivisions = 2000)$value }
beyond <- function(q, lambda, df, two) {
  if (is.infinite(df)) return(given(q, lambda, two))
  log.s <- function(u) exp(log(2) + df / 2 * log(df / 2) - lgamma(df / 2) + df * u - df * exp(2 * u) / 2)
  f <- function(u) log.s(u) * vapply(u, function(v) given(q * exp(v), lambda, two), 0)
  lo <- -28 / df - 3 / sqrt(df); hi <- 0.5 * log(1 + 60 / df + 8 * sqrt(2 / df))
  integrate(f, lo, hi, rel.tol = 1e-9, abs.tol = 1e-12, subdivisions = 2000)$value }
groups <- list(c(6, 6, 6, 6), c(12, 5, 7, 9, 4, 6), c(20, 5, 5, 5, 5), c(3, 30, 20, 30), rep(5, 11), c(1, 60, 80, 70))
out <- NULL
for (n in groups) for (df in c(1, 3, 20, 300, Inf)) for (two in c(TRUE, FALSE)) {
  lambda <- sqrt(n[-1] / (n[-1] + n[1])); k <- length(lambda)
  for (q in c(if (!two) -0.7, 0.2, 1.5, 2.3, 3, 5)) {
    p <- beyond(q, lambda, df, two)
    if (!is.infinite(df) && df > 1 && p > 1e-4) { # the same by mvtnorm, whose own error is a guess
      R <- lambda %o% lambda; diag(R) <- 1
      m <- pmvt(lower = if (two) rep(-q, k) else rep(-Inf, k), upper = rep(q, k), df = df, corr = R, algorithm = GenzBretz(maxpts = 2e5, abseps = 1e-5))
      stopifnot(abs(1 - m - p) < 5 * attr(m, "error") + 1e-5) }
    out <- rbind(out, data.frame(groups = paste(n, collapse = " "), df = sprintf("%g", df), sides = if (two) 2 else 1, q, p)) }
}
w(out, "dunnett.csv")

# P(range/s/sqrt(2) > q) of k means by its double integral; ptukey errs by up to 2e-6 on few
# degrees of freedom.
all.pairs <- function(q, k, df) {
  range <- function(w) 1 - integrate(function(z) k * dnorm(z) * (pnorm(z) - pnorm(z - w))^(k - 1), -8, 8 + min(w, 30), rel.tol = 1e-11, abs.tol = 1e-13, subdivisions = 2000)$value
  if (is.infinite(df)) return(range(q * sqrt(2)))
  f <- function(u) exp(log(2) + df / 2 * log(df / 2) - lgamma(df / 2) + df * u - df * exp(2 * u) / 2) * vapply(u, function(v) range(q * sqrt(2) * exp(v)), 0)
  integrate(f, -28 / df - 3 / sqrt(df), 0.5 * log(1 + 60 / df + 8 * sqrt(2 / df)), rel.tol = 1e-9, abs.tol = 1e-11, subdivisions = 2000)$value }
out <- NULL
for (k in c(2, 3, 4, 5, 6, 8, 12)) for (df in c(3, 10, 40, Inf)) for (q in c(1, 2, 2.5, 3, 4)) {
  p <- all.pairs(q, k, df)
  stopifnot(abs(p - ptukey(q * sqrt(2), k, df, lower.tail = FALSE)) < 3e-6)
  out <- rbind(out, data.frame(groups = k, df = sprintf("%g", df), q, p, critical95 = qtukey(0.95, k, df) / sqrt(2)))
}
w(out, "tukey.csv")
