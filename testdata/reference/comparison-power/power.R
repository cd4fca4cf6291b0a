# How often the comparison of packs with a control finds what is there, and what is not,
# with the test of additivity before it:
#   Rscript power.R
# p packs beside the control, b batches, each pack and batch with n results on a line of
# its own: d = p(b − 1) degrees of freedom of the arms' own rates, v those of the results
# about the arms' lines. A and B, the two sums of squares over σ², are χ² on d and v where
# rates add up, independent of each other and of the estimates. Where F = (A/d)/(B/v) is
# above its 0.75 quantile (p below 0.25) the error is A/d on d, else (A + B)/(d + v) on
# d + v degrees of freedom. A + B is independent of A/B, so that without the first branch
# the test is Student's as it stands; with it the share is one integral over A,
#     ∫ χ²_d(a)·P(B < a·v/(d·F0))·P(|Z + Δ| > c_d·√(a/d)) da.
# The critical values are Dunnett's two-sided at 0.05 for comparisons correlated by 1/2,
# by their double integral. Δ is the harm in standard errors.
options(digits = 15)
within <- function(x, p, ncp = 0) # P(all |Z_i| ≤ x)
  integrate(function(y) dnorm(y) * (pnorm(sqrt(2) * x - y) - pnorm(-sqrt(2) * x - y))^p, -8, 8, rel.tol = 1e-10)$value
family <- function(c, p, df) # P(max |T_i| > c)
  1 - integrate(function(s) sapply(s, function(s) 2 * s * df * dchisq(df * s^2, df) * within(c * s, p)), 0, 1, rel.tol = 1e-9)$value -
    integrate(function(s) sapply(s, function(s) 2 * s * df * dchisq(df * s^2, df) * within(c * s, p)), 1, 12, rel.tol = 1e-9)$value
out <- NULL
for (k in list(list(design = "three batches", p = 3, b = 3, delta = 0.075), list(design = "ten batches", p = 3, b = 10, delta = 0.04))) {
  p <- k$p; b <- k$b; sigma <- 0.5; sxx <- 420; each <- 12      # times 0, 3, 6, 9, 12, 18, two results each: Sxx = 2·(594 − 6·8²) = 420
  se <- sigma * sqrt(2 / (b * sxx)); delta <- k$delta / se
  d <- p * (b - 1); v <- (p + 1) * b * (each - 2); f0 <- qf(0.75, d, v)
  cd <- uniroot(function(c) family(c, p, d) - 0.05, c(2, 6), tol = 1e-9)$root
  cv <- uniroot(function(c) family(c, p, d + v) - 0.05, c(2, 4), tol = 1e-9)$root
  residual <- pt(-cv, d + v, delta) + pt(cv, d + v, delta, lower.tail = FALSE)
  arms <- function(g) integrate(function(a) sapply(a, function(a) dchisq(a, d) * pchisq(a * v / (d * f0), v) * g(cd * sqrt(a / d))), 0, d + 20 * sqrt(2 * d), rel.tol = 1e-9)$value
  power <- 0.75 * residual + arms(function(x) pnorm(delta - x) + pnorm(-x - delta))
  level <- 0.75 * 0.05 + arms(function(x) 1 - within(x, p))
  # The same by simulation of the sums of squares and estimates, as a check of the integrals.
  set.seed(1); m <- 4e5; A <- rchisq(m, d); B <- rchisq(m, v); Z <- rnorm(m) + delta
  first <- (A / d) / (B / v) > f0
  simulated <- mean(ifelse(first, abs(Z) > cd * sqrt(A / d), abs(Z) > cv * sqrt((A + B) / (d + v))))
  cat(k$design, simulated, power, "\n"); stopifnot(abs(simulated - power) < 0.003)
  out <- rbind(out, data.frame(design = k$design, packs = p, batches = b, harm = k$delta, standard_errors = delta, d, v, critical_arms = cd, critical_residual = cv,
    power_residual_alone = residual, power, level))
}
write.csv(format(out, digits = 10, trim = TRUE), "power.csv", row.names = FALSE, quote = FALSE)
