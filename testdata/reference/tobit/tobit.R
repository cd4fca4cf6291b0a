# Reference for straight lines with censored values: survival::survreg with a
# gaussian error on interval2 data. The bounds are found by uniroot on fits in
# which the mean is held on the limit, maximized by nlminb in (beta, log sigma), as
# survreg does not converge from its own start there. Data from a seed. Run in this
# folder: Rscript tobit.R
library(survival)
options(digits = 15)
set.seed(20260305)
write <- function(x, file) write.csv(format(x, digits = 15, trim = TRUE), file, row.names = FALSE, quote = FALSE)
months <- c(0, 3, 6, 9, 12, 18, 24)
make <- function(set, a, b, sd, below = -Inf, above = Inf, times = months) {
  d <- expand.grid(months = times, batch = seq_along(a))
  y <- signif(a[d$batch] + b[d$batch] * d$months + rnorm(nrow(d)) * sd, 5)
  d$side <- ifelse(y < below, "below", ifelse(y > above, "above", "exact"))
  d$value <- pmin(pmax(y, below), above)
  data.frame(set = set, d[, c("batch", "months", "value", "side")])
}
data <- rbind(
  make("impurity", 0.02, 0.008, 0.02, below = 0.05),
  make("impurities", c(0.02, 0.03, 0.01), c(0.008, 0.008, 0.008), 0.015, below = 0.05),
  make("apart", c(0.02, 0.05, 0), c(0.006, 0.009, 0.013), 0.012, below = 0.05),
  make("parallel", c(0.1, 0.25, 0), c(0.01, 0.01, 0.01), 0.012, below = 0.08),
  make("thickens", c(150, 160), c(3, 3.4), 6, above = 200),
  make("vanishes", c(0.6, 0.62, 0.58), c(-0.02, -0.02, -0.02), 0.03, below = 0.2),
  make("both ends", 3, 0.4, 1.2, below = 4, above = 11, times = seq(0, 24, by = 1.5)),
  make("exact", c(100, 101), c(-0.4, -0.3), 0.7))
write(data, "data.csv")
limits <- data.frame(set = c("impurity", "impurities", "apart", "parallel", "thickens", "vanishes", "both ends", "exact"),
                     level = c(0.3, 0.3, 0.3, 0.5, 260, 0.15, 16, 90), above = c(TRUE, TRUE, TRUE, TRUE, TRUE, FALSE, TRUE, FALSE),
                     share = c(0, 0, 0, 0, 0, 0, 0, 0), confidence = 0.95)
# Limits on the change from the start and in part of it.
limits <- rbind(limits, data.frame(set = c("impurities", "vanishes"), level = c(0.25, 0), above = c(TRUE, FALSE), share = c(1, 0.3), confidence = 0.9))
write(limits, "limits.csv")

surv <- function(value, side) Surv(ifelse(side == "below", NA, value), ifelse(side == "above", NA, value), type = "interval2")
control <- survreg.control(maxiter = 200, rel.tolerance = 1e-14)
fit <- function(X, value, side) {
  survreg(surv(value, side) ~ 0 + X, dist = "gaussian", control = control)
}
best <- function(X, value, side, start) {
  parts <- function(q) {
    u <- drop(value - X %*% q[-length(q)]) / exp(q[length(q)])
    list(u = u, e = side == "exact", s = ifelse(side == "above", -1, 1))
  }
  minus <- function(q) with(parts(q), -sum(dnorm(u[e], log = TRUE) - q[length(q)]) - sum(pnorm(s[!e] * u[!e], log.p = TRUE)))
  gradient <- function(q) with(parts(q), {
    d <- ifelse(e, -u, s * exp(dnorm(u, log = TRUE) - pnorm(s * u, log.p = TRUE)))
    c(drop(t(X) %*% d) / exp(q[length(q)]), sum(d * u) + sum(e))
  })
  r <- NULL
  for (k in 1:4) { r <- nlminb(start, minus, gradient, control = list(rel.tol = 1e-15, x.tol = 1e-13, iter.max = 1000, eval.max = 2000)); start <- r$par }
  -r$objective
}
design <- function(d, decision) {
  b <- factor(d$batch); one <- outer(d$batch, unique(d$batch), "==") * 1
  switch(decision, separate = cbind(one, one * d$months), "common-slope" = cbind(one, d$months), pooled = cbind(1, d$months))
}
fits <- lives <- NULL
for (s in unique(data$set)) {
  d <- data[data$set == s, ]; k <- length(unique(d$batch)); m <- sum(d$side == "exact")
  for (decision in if (k > 1) c("separate", "common-slope", "pooled") else "separate") {
    X <- design(d, decision); p <- ncol(X); f <- fit(X, d$value, d$side); v <- vcov(f)
    for (b in seq_len(k)) {
      i <- if (decision == "pooled") 1 else b; j <- if (decision == "separate") k + b else p
      at <- function(t) { w <- rep(0, p); w[i] <- 1; w[j] <- t; w }
      se <- function(t) sqrt(drop(at(t) %*% v[seq_len(p), seq_len(p)] %*% at(t)))
      fits <- rbind(fits, data.frame(set = s, decision = decision, batch = b, exact = m, loglik = f$loglik[2], sigma = f$scale,
        intercept = unname(coef(f)[i]), slope = unname(coef(f)[j]), se0 = se(0), se12 = se(12)))
      for (l in which(limits$set == s)) {
        L <- limits[l, ]; df <- m - p; t <- qt(L$confidence, df); allowance <- m * log1p(t^2 / df)
        # The profile log-likelihood with the mean held: the coefficient i (or j) by the others.
        held <- function(x) {
          w <- if (is.finite(x)) at(x) - L$share * at(0) else at(1) - at(0)
          level <- if (is.finite(x)) L$level else 0
          o <- if (abs(w[i]) > 0) i else j
          off <- X[, o] * level / w[o]
          Y <- X[, -o, drop = FALSE] - outer(X[, o], w[-o] / w[o])
          start <- c(qr.coef(qr(Y), d$value - off), log(sd(d$value)))
          2 * (f$loglik[2] - best(Y, d$value - off, d$side, start)) - allowance
        }
        # a(1 - share) + b x = level
        estimate <- unname((L$level - (1 - L$share) * coef(f)[i]) / coef(f)[j])
        if (estimate < 0) estimate <- Inf
        bound <- if (is.infinite(estimate)) NA else {
          low <- if (L$share == 1) 0.05 * estimate else 0
          if (held(low) < 0) NA else uniroot(held, c(low, estimate), tol = 1e-10)$root
        }
        lives <- rbind(lives, data.frame(set = s, decision = decision, batch = b, limit = l, estimate = estimate, bound = bound))
      }
    }
  }
}
write(fits, "fits.csv")
write(lives, "lives.csv")

# The normal distribution far out.
u <- c(-100, -31, -29, -20, -5, -1, 0, 1, 3, 5.5, 9)
write(data.frame(u = u, log_phi = pnorm(u, log.p = TRUE), lambda = exp(dnorm(u, log = TRUE) - pnorm(u, log.p = TRUE))), "normal.csv")
