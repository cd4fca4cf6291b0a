# Reference for one censored value in a study of one batch: the case "censored" of
# TestSupported. As ../tobit/tobit.R: survival::survreg, and the bound of the time
# at which the mean meets the limit by uniroot on fits with the mean held there.
# Run in this folder: Rscript censored.R > censored.txt
library(survival)
options(digits = 12)
t <- c(0, 3, 6, 9, 12)
y <- c(100.2, 98.4, 96.8, 95.4, 94.2)
above <- c(FALSE, FALSE, TRUE, FALSE, FALSE)
limit <- 90
f <- survreg(Surv(y, ifelse(above, NA, y), type = "interval2") ~ t, dist = "gaussian", control = survreg.control(maxiter = 200, rel.tolerance = 1e-14))
m <- sum(!above); df <- m - 2
allowance <- m * log1p(qt(0.95, df)^2 / df)
held <- function(x) { # the mean is the limit at x: y = limit + slope (t - x)
  minus <- function(q) {
    u <- (y - limit - q[1] * (t - x)) / exp(q[2])
    -sum(dnorm(u[!above], log = TRUE) - q[2]) - sum(pnorm(-u[above], log.p = TRUE))
  }
  start <- c(sum((y - limit) * (t - x)) / sum((t - x)^2), log(0.5))
  for (k in 1:6) { r <- nlminb(start, minus, control = list(rel.tol = 1e-15, x.tol = 1e-14, iter.max = 2000, eval.max = 4000)); start <- r$par }
  2 * (f$loglik[2] + r$objective) - allowance
}
estimate <- unname((limit - coef(f)[1]) / coef(f)[2])
cat("estimate", estimate, "\nbound", uniroot(held, c(5, estimate), tol = 1e-12)$root, "\n")
