# Reference for the evaluation of units that are weighed or measured again and
# again. Reads nothing but the degradation read-outs; makes its own data from a
# seed. Run in this folder: Rscript units.R
options(digits = 15)
set.seed(20250113)
write <- function(x, file) write.csv(x, file, row.names = FALSE, quote = FALSE)

# The 15 units of the read-outs: percent degraded a hour, through the origin.
d <- read.csv("../degradation-readouts.csv")
rates <- do.call(rbind, lapply(unique(d$unit), function(u) {
  s <- d[d$unit == u, ]
  data.frame(celsius = s$celsius[1], unit = u, rate = unname(coef(lm(percent ~ 0 + hours, s))))
}))
write(rates, "degradation-rates.csv")

# Data: several batches of units, each unit with its own start and rate.
make <- function(case, counts, times, start, between, rate, spread, noise, drop = 0) {
  out <- NULL
  unit <- 0
  for (b in seq_along(counts)) for (i in seq_len(counts[b])) {
    unit <- unit + 1
    r <- rate[b] + rnorm(1, 0, spread)
    a <- start[b] + rnorm(1, 0, between)
    t <- if (drop > 0 && unit == drop) times[-length(times)] else times
    out <- rbind(out, data.frame(case = case, batch = b, unit = unit, months = t,
                                 value = signif(a + r * t + ifelse(t > 0 | start[b] > 0, rnorm(length(t), 0, noise), 0), 6)))
  }
  out
}
times <- c(0, 2.989733, 6.012320, 8.969199, 11.991786, 17.971253)
weighings <- rbind(
  make("pooled", c(4, 4, 4), times, c(0, 0, 0), 0, c(0.11, 0.11, 0.11), 0.02, 0.01),
  make("separate", c(4, 3, 5), times, c(0, 0, 0), 0, c(0.08, 0.12, 0.17), 0.01, 0.01, drop = 2),
  make("one-batch", 6, times, 0, 0, 0.10, 0.03, 0.01),
  make("either-way", c(3, 3), times, c(0, 0), 0, c(0.01, 0.01), 0.03, 0.01),
  make("gain", c(4, 4), times, c(0, 0), 0, c(-0.05, -0.08), 0.01, 0.01))
limits <- data.frame(case = c("pooled", "separate", "one-batch", "either-way", "gain"),
                     lower = c(-Inf, -Inf, -Inf, -2, -2), upper = c(3, 3, 3, 2, Inf))

bound <- function(line, se, q, lower, upper, far = 1e4) {
  # First time at which a limit is met: looked for from both sides by uniroot.
  first <- function(f) {
    if (f(0) <= 0) return(0)
    grid <- c(seq(0, 1000, by = 0.25), far)
    v <- sapply(grid, f)
    k <- which(v <= 0)[1]
    if (is.na(k)) return(Inf)
    uniroot(f, grid[c(k - 1, k)], tol = 1e-13)$root
  }
  min(if (is.finite(lower)) first(function(t) line(t) - q * se(t) - lower) else Inf,
      if (is.finite(upper)) first(function(t) upper - line(t) - q * se(t)) else Inf)
}

alpha <- 0.25
out <- NULL
for (i in seq_len(nrow(limits))) {
  L <- limits[i, ]
  w <- weighings[weighings$case == L$case, ]
  u <- unique(w[, c("batch", "unit")])
  u$rate <- sapply(u$unit, function(k) unname(coef(lm(value ~ 0 + months, w[w$unit == k, ]))))
  n <- nrow(u); b <- length(unique(u$batch))
  F <- NA; p <- NA; decision <- "separate"
  if (b > 1) {
    a <- anova(aov(rate ~ factor(batch), u))
    F <- a$F[1]; p <- a$`Pr(>F)`[1]
    if (p >= alpha) decision <- "pooled"
  }
  two <- is.finite(L$lower) && is.finite(L$upper)
  fit <- if (decision == "pooled" || b == 1) lm(rate ~ 1, u) else lm(rate ~ 0 + factor(batch), u)
  q <- qt(if (two) 0.975 else 0.95, fit$df.residual)
  for (j in sort(unique(u$batch))) {
    c <- summary(fit)$coefficients[min(j, nrow(summary(fit)$coefficients)), ]
    f <- function(q) bound(function(t) c[1] * t, function(t) c[2] * t, q, L$lower, L$upper)
    out <- rbind(out, data.frame(case = L$case, batch = j, lower = L$lower, upper = L$upper, slopes_f = F, slopes_p = p,
      decision = decision, df = fit$df.residual, sd = summary(fit)$sigma, n = sum(u$batch == j), slope = c[1], slope_se = c[2],
      estimate_months = f(0), shelf_life_months = f(q)))
  }
}
write(weighings, "weighings.csv")
write(out, "weighings-answers.csv")

# Units that are measured and put back: a line each.
returned <- rbind(
  make("pooled", c(4, 4, 4), times, c(100, 100, 100), 0.6, c(-0.30, -0.30, -0.30), 0.06, 0.3),
  make("common-slope", c(4, 3, 5), times, c(100, 103, 98), 0.6, c(-0.30, -0.30, -0.30), 0.06, 0.3),
  make("separate", c(4, 3, 5), times, c(100, 101, 102), 0.6, c(-0.20, -0.35, -0.55), 0.05, 0.3, drop = 6),
  make("one-batch", 5, times, 100, 0.6, -0.30, 0.06, 0.3),
  make("first-order", c(4, 4), times, c(100, 104), 0.6, c(-0.50, -0.80), 0.05, 0.3))
limits <- data.frame(case = c("pooled", "common-slope", "separate", "one-batch", "first-order"),
                     lower = c(90, 90, 90, 90, 85), upper = c(Inf, Inf, Inf, 106, Inf))
out <- NULL
for (i in seq_len(nrow(limits))) {
  L <- limits[i, ]
  w <- returned[returned$case == L$case, ]
  g <- if (L$case == "first-order") log else identity
  centre <- mean(w$months)
  u <- unique(w[, c("batch", "unit")])
  k <- t(sapply(u$unit, function(k) coef(lm(g(value) ~ I(months - centre), w[w$unit == k, ]))))
  u$level <- k[, 1]; u$slope <- k[, 2]
  n <- nrow(u); b <- length(unique(u$batch))
  test <- c(NA, NA, NA, NA); decision <- "separate"
  if (b > 1) {
    a <- anova(aov(slope ~ factor(batch), u))
    test[1:2] <- c(a$F[1], a$`Pr(>F)`[1])
    if (test[2] >= alpha) {
      decision <- "common-slope"
      a <- anova(aov(level ~ factor(batch), u))
      test[3:4] <- c(a$F[1], a$`Pr(>F)`[1])
      if (test[4] >= alpha) decision <- "pooled"
    }
  }
  fit <- if (decision == "pooled" || b == 1) lm(cbind(level, slope) ~ 1, u) else lm(cbind(level, slope) ~ 0 + factor(batch), u)
  df <- fit$df.residual
  S <- crossprod(residuals(fit)) / df
  two <- is.finite(L$lower) && is.finite(L$upper)
  q <- qt(if (two) 0.975 else 0.95, df)
  for (j in sort(unique(u$batch))) {
    own <- u[u$batch == j, ]
    level <- if (decision == "pooled") mean(u$level) else mean(own$level)
    slope <- if (decision == "separate") mean(own$slope) else mean(u$slope)
    # Each as weights on the units: the variance of any linear combination of them.
    wl <- if (decision == "pooled") rep(1 / n, n) else (u$batch == j) / nrow(own)
    ws <- if (decision == "separate") wl else rep(1 / n, n)
    se <- function(t) {
      m <- rbind(wl, (t - centre) * ws)
      sqrt(sum(apply(m, 2, function(x) t(x) %*% S %*% x)))
    }
    f <- function(q) bound(function(t) level + slope * (t - centre), se, q, g(L$lower), if (is.finite(L$upper)) g(L$upper) else Inf)
    out <- rbind(out, data.frame(case = L$case, batch = j, lower = L$lower, upper = L$upper, slopes_f = test[1], slopes_p = test[2],
      intercepts_f = test[3], intercepts_p = test[4], decision = decision, df = df, sd = sqrt(S[1, 1]), n = nrow(own),
      intercept = level - slope * centre, slope = slope, slope_se = sqrt(S[2, 2] * sum(ws^2)), se10 = se(10),
      estimate_months = f(0), shelf_life_months = f(q)))
  }
}
write(returned, "returned.csv")
write(out, "returned-answers.csv")
