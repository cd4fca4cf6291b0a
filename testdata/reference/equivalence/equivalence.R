# Two one-sided tests by pt and qt, and their power by integrate(). Run in this folder:
# Rscript equivalence.R
# It writes tests.csv and power.csv. Made with R 4.2.2.
set.seed(8)
out <- NULL
for (i in 1:60) {
  df <- c(1, 2, 5.5, 12, 40, 181.1, 1e4, Inf)[(i - 1) %% 8 + 1]; alpha <- c(0.05, 0.025, 0.1, 0.01)[(i - 1) %% 4 + 1]
  lower <- -round(runif(1, 0.2, 3), 3); upper <- round(runif(1, 0.2, 3), 3)
  d <- round(rnorm(1, 0, 1), 4); se <- round(exp(runif(1, log(0.02), log(1.5))), 5)
  t1 <- (d - lower) / se; t2 <- (d - upper) / se
  p1 <- pt(t1, df, lower.tail = FALSE); p2 <- pt(t2, df); p0 <- 2 * pt(-abs(d / se), df)
  ci <- d + c(-1, 1) * qt(1 - alpha, df) * se; two <- d + c(-1, 1) * qt(1 - alpha / 2, df) * se
  # by the intervals here, by p in the code under test
  verdict <- if (ci[1] > lower && ci[2] < upper) "equivalent" else if (two[1] > 0 || two[2] < 0) "different" else "not-shown"
  out <- rbind(out, data.frame(d, se, df, lower, upper, alpha, low = ci[1], high = ci[2], plower = p1, pupper = p2, pzero = p0, verdict,
    beyond = ci[1] > upper || ci[2] < lower))
}
print(table(out$verdict, out$beyond))
num <- function(d) { for (j in names(d)) if (is.double(d[[j]])) d[[j]] <- sprintf("%.15g", d[[j]]); d }
write.csv(num(out), "tests.csv", row.names = FALSE, quote = FALSE)

power <- function(truth, se, df, lower, upper, alpha) {
  t <- qt(1 - alpha, df)
  g <- function(s) pmax(0, pnorm((upper - truth) / se - t * s) - pnorm((lower - truth) / se + t * s))
  if (is.infinite(df)) return(g(1))
  top <- (upper - lower) / (2 * t * se)
  f <- function(s) exp(log(2) + df / 2 * log(df / 2) - lgamma(df / 2) + (df - 1) * log(s) - df * s^2 / 2) * g(s)
  sd <- 1 / sqrt(2 * df); cuts <- c(0, pmin(top, pmax(0, 1 + sd * c(-8, -4, -2, -1, 0, 1, 2, 4, 8, 16))), top)
  cuts <- sort(unique(cuts)); sum(sapply(seq_len(length(cuts) - 1), function(i) integrate(f, cuts[i], cuts[i + 1], rel.tol = 1e-11, abs.tol = 1e-14)$value))
}
out <- NULL
for (df in c(1, 2, 7, 18, 62, 500, Inf)) for (se in c(0.02, 0.1, 0.3, 1)) for (truth in c(0, 0.1, -0.4, 1.2)) for (alpha in c(0.05, 0.01))
  out <- rbind(out, data.frame(truth, se, df, lower = -0.5, upper = 0.6, alpha, power = power(truth, se, df, -0.5, 0.6, alpha)))
write.csv(num(out), "power.csv", row.names = FALSE, quote = FALSE)
