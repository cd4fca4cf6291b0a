# Reference for the noncentral t distribution. Run in this folder:
# Rscript noncentral.R
#
# "quantile" is found on P(T <= t) = E P(chi2/df >= ((Z + delta)/t)^2), an
# integral over the normal Z by pieces, with R's central chi-square in it; "qt"
# and "pt" are R's own noncentral t (AS 243, Lenth 1989), which above delta =
# 37.62 is a normal approximation and is left out there.
options(digits = 15, warn = 2)
gauss <- local({ # Gauss-Legendre, 40 points, by the eigenvalues of Golub & Welsch
  n <- 40; k <- 1:(n - 1); b <- k / sqrt(4 * k^2 - 1)
  J <- matrix(0, n, n); J[cbind(k, k + 1)] <- b; J[cbind(k + 1, k)] <- b
  e <- eigen(J, symmetric = TRUE); list(x = e$values, w = 2 * e$vectors[1, ]^2) })
# Pieces between normal quantiles and between the z at which chi is at its own.
integral <- function(f, t, df, delta) {
  cut <- c(seq(-38, 15, by = 0.5), 53, -delta, t * sqrt(qchisq(c(1e-300, 10^-(16:1), 0.5), df) / df) - delta,
           t * sqrt(qchisq(10^-(1:16), df, lower.tail = FALSE) / df) - delta)
  cut <- sort(unique(cut[cut >= max(-38, -delta)]))
  sum(sapply(seq_len(length(cut) - 1), function(i) {
    half <- (cut[i + 1] - cut[i]) / 2
    half * sum(gauss$w * f(cut[i] + half * (1 + gauss$x))) }))
}
# Both tails, t != 0. For t > 0: T > t where S < (Z + delta)/t.
upper <- function(t, df, delta) {
  if (t < 0) return(lower(-t, df, -delta))
  integral(function(z) dnorm(z) * pchisq(df * ((z + delta) / t)^2, df), t, df, delta)
}
lower <- function(t, df, delta) {
  if (t < 0) return(upper(-t, df, -delta))
  pnorm(-delta) + integral(function(z) dnorm(z) * pchisq(df * ((z + delta) / t)^2, df, lower.tail = FALSE), t, df, delta)
}
quantile_of <- function(p, df, delta) {
  g <- if (p < 0.5) function(t) lower(t, df, delta) / p - 1 else function(t) upper(t, df, delta) / (1 - p) - 1
  start <- delta + 0.37
  lo <- start - 1; hi <- start + 1
  sgn <- if (p < 0.5) 1 else -1
  while (sgn * g(lo) > 0) lo <- lo - 2 * (hi - lo)
  while (sgn * g(hi) < 0) hi <- hi + 2 * (hi - lo)
  for (i in 1:200) { # bisection to the last digits
    m <- (lo + hi) / 2
    if (m <= lo || m >= hi) break
    if (sgn * g(m) < 0) lo <- m else hi <- m
  }
  m
}
grid <- expand.grid(p = c(0.01, 0.05, 0.5, 0.9, 0.95, 0.99, 0.999), delta = c(-3, 0.5, 2, 5, 10, 20, 35, 50),
                    df = c(1, 2, 3.7, 8, 19, 42, 150, 1000))
rows <- do.call(rbind, lapply(seq_len(nrow(grid)), function(i) { g <- grid[i, ]
  q <- quantile_of(g$p, g$df, g$delta)
  weak <- abs(g$delta) > 37.62
  # The lower tail is a difference in AS 243, so that pt warns of lost digits
  # in the upper one; R's quantile is printed beside ours, NA where it refuses.
  r <- if (weak) NA else tryCatch(qt(g$p, g$df, ncp = g$delta), warning = function(w) NA)
  data.frame(df = g$df, delta = g$delta, p = g$p, quantile = q, qt = r)
}))
cat("R's qt against the integral, largest relative difference:", max(abs(rows$qt / rows$quantile - 1), na.rm = TRUE), "\n")
cat("rows where qt gives none:", sum(is.na(rows$qt)), "of", nrow(rows), "\n")
for (j in names(rows)) rows[[j]] <- ifelse(is.na(rows[[j]]), "", sprintf("%.15g", rows[[j]]))
write.csv(rows, "quantiles.csv", row.names = FALSE, quote = FALSE)
