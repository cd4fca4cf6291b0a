# Reference for the bounds of one attribute side by side: the mean, units, the mean
# of all batches and a batch to come, of six made-up batches (results.csv, drawn
# from a seed). Run in this folder:
# Rscript bounds.R
# Lines by lm, pooled by anova at 0.25; units by R's noncentral t; all batches by
# lme4's lmer with lmerTest's Satterthwaite; the batch to come by nested
# integrals, as in ../randombatch. Made with R 4.2.2, lme4 1.1-31, lmerTest 3.1-3.
suppressMessages({ library(lme4); library(lmerTest) })
options(digits = 15)
all <- read.csv("results.csv")
all <- all[all$condition != "40C75", ]
all$months <- as.numeric(sub("M", "", all$time))
all$batch <- factor(all$batch)

cases <- list(
  list(name = "assay", attribute = "assay", lower = 90, upper = NA, g = identity, tau = identity, back = identity, base = 0, relative = FALSE),
  list(name = "pH", attribute = "pH", lower = 5.0, upper = 6.2, g = identity, tau = identity, back = identity, base = 0, relative = FALSE),
  list(name = "percent", attribute = "assay", lower = log(0.92), upper = NA, g = log, tau = identity, back = identity, base = 0, relative = TRUE),
  list(name = "root", attribute = "assay", lower = 90, upper = NA, g = identity, tau = sqrt, back = function(t) t^2, base = 0, relative = FALSE),
  list(name = "baseline", attribute = "assay", lower = 90, upper = NA, g = identity, tau = identity, back = identity, base = 3, relative = FALSE))

# first time at which f comes down to zero, from above
meets <- function(f, step = 3) {
  a <- 0
  while (f(a + step) > 0) { a <- a + step; if (a > 1e4) return(Inf) }
  uniroot(f, c(a, a + step), tol = 1e-12)$root
}

# Gauss-Legendre on pieces, 12 points each (nodes by Golub & Welsch).
gauss <- local({ n <- 12; k <- 1:(n - 1); b <- k / sqrt(4 * k^2 - 1)
  J <- matrix(0, n, n); J[cbind(k, k + 1)] <- b; J[cbind(k + 1, k)] <- b
  e <- eigen(J, symmetric = TRUE); list(x = e$values, w = 2 * e$vectors[1, ]^2) })
pieces <- function(f, cut) sum(sapply(seq_len(length(cut) - 1), function(i) {
  half <- (cut[i + 1] - cut[i]) / 2
  half * sum(gauss$w * sapply(cut[i] + half * (1 + gauss$x), f)) }))
generalized <- function(d, rows, y, z) {
  f <- lapply(split(d, d$batch), function(b) lm(y ~ t, b))
  est <- sapply(f, function(x) sum(rows * coef(x)))
  h <- sapply(f, function(x) drop(rows %*% summary(x)$cov.unscaled %*% rows))
  rss <- sum(sapply(f, deviance)); m <- length(f); free <- nrow(d) - 2 * m
  parts <- function(v, s2) { w <- 1 / (v + s2 * h); mu <- sum(w * est) / sum(w); c(mu, sum(w), sum(w * (est - mu)^2)) }
  given <- function(s2) {
    z0 <- parts(0, s2); top <- pchisq(z0[3], m - 1)
    at <- function(u) {
      U <- qchisq(u, m - 1); hi <- 1
      while (parts(hi, s2)[3] > U) hi <- hi * 4
      v <- uniroot(function(v) parts(v, s2)[3] - U, c(0, hi), tol = 1e-13 * hi)$root
      p <- parts(v, s2); pnorm((y - p[1] + z * sqrt(v)) * sqrt(p[2])) }
    inner <- if (top < 1e-12) 0 else pieces(function(q) at(top * (1 - q^2)) * 2 * q * top, c(0, 0.6, 0.9, 0.99, 1))
    inner + (1 - top) * pnorm((y - z0[1]) * sqrt(z0[2]))
  }
  pieces(function(p) given(rss / qchisq(p, free)), c(0, 1e-6, 1e-3, 0.1, 0.5, 0.9, 1))
}

# All bounds of one case at one limit; side is 1 for a lower limit, -1 for an upper.
bounds <- function(x, d, limit, side, coverage, confidence) {
  d$y <- side * d$y; limit <- side * limit; z <- qnorm(coverage)
  separate <- lm(y ~ batch * t, d); slope <- lm(y ~ batch + t, d); pooled <- lm(y ~ t, d)
  # extra sums of squares over the mean square of separate lines
  test <- function(small, large) {
    df <- df.residual(small) - df.residual(large)
    pf((deviance(small) - deviance(large)) / df / (deviance(separate) / df.residual(separate)), df, df.residual(separate), lower.tail = FALSE)
  }
  fit <- if (test(slope, separate) < 0.25) separate else if (test(pooled, slope) < 0.25) slope else pooled
  # the row of the design that takes the coefficients to what is judged
  row <- function(fit, b, t) {
    at <- function(t) model.matrix(delete.response(terms(fit)), data.frame(batch = factor(b, levels(d$batch)), t = t))
    drop(at(t) - if (x$relative) at(0) else 0)
  }
  s <- sigma(fit); df <- df.residual(fit); unscaled <- vcov(fit) / s^2
  line <- function(b, t) { r <- row(fit, b, t); c(sum(r * coef(fit)), sqrt(drop(r %*% unscaled %*% r))) }
  mean <- min(sapply(levels(d$batch), function(b) meets(function(t) { l <- line(b, t); l[1] - qt(confidence, df) * s * l[2] - limit })))
  units <- min(sapply(levels(d$batch), function(b) meets(function(t) {
    l <- line(b, t); h <- max(l[2], 1e-7)
    # the quantile of the noncentral t, where R's pt is exact enough
    pt((l[1] - limit) / (s * h), df, ncp = z / h) - confidence })))
  g <- suppressWarnings(suppressMessages(lmerTest::lmer(y ~ t + (t | batch), d,
    control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-11, maxfun = 1e6), check.conv.singular = "ignore", check.conv.grad = "ignore", check.conv.hess = "ignore"))))
  all <- meets(function(t) {
    r <- if (x$relative) c(0, max(t, 1e-9)) else c(1, t); c <- contest1D(g, r, confint = FALSE)
    sum(r * fixef(g)) - qt(confidence, c[["df"]]) * c[["Std. Error"]] - limit })
  next_ <- meets(function(t) 1 - confidence - generalized(d, if (x$relative) c(0, max(t, 1e-9)) else c(1, t), limit, z), step = x$tau(3))
  c(mean, units, all, next_)
}

out <- do.call(rbind, lapply(cases, function(x) {
  d <- all[all$attribute == x$attribute & all$months >= x$base, ]
  d$t <- x$tau(d$months - x$base); d$y <- x$g(d$value)
  two <- !is.na(x$upper)
  p <- if (two) 0.975 else 0.95
  found <- bounds(x, d, x$lower, 1, p, p)
  if (two) found <- pmin(found, bounds(x, d, x$upper, -1, p, p))
  data.frame(case = x$name, t(sprintf("%.12g", x$base + x$back(found))))
}))
names(out) <- c("case", "mean", "units", "batches_mean", "batches_to_come")
write.csv(out, "bounds.csv", row.names = FALSE, quote = FALSE)
