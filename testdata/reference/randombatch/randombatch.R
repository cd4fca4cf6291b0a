# Reference for random batches: restricted maximum likelihood by nlme's lme and
# lme4's lmer, Satterthwaite's degrees of freedom by lmerTest, and the generalized
# limit of the quantile path by nested integrals. Run in this folder: Rscript
# randombatch.R
# Orthodont (Potthoff & Roy 1964) and Oxboys (Goldstein 1987, whose ages are
# scaled to -1 to 1: two are added, studies having no time before the start) are
# shipped with nlme; the other sets are made here. Made with R 4.2.2, nlme 3.1.162, lme4
# 1.1-31, lmerTest 3.1-3.
suppressMessages({ library(nlme); library(lme4); library(lmerTest) })
options(digits = 15)
set.seed(20260301, kind = "Mersenne-Twister", normal.kind = "Inversion")
make <- function(data, m, times, a, sa, b, sb, rho, s, drop = 0) do.call(rbind, lapply(1:m, function(i) {
  z <- rnorm(2); ai <- a + sa * z[1]; bi <- b + sb * (rho * z[1] + sqrt(1 - rho^2) * z[2])
  t <- if (is.list(times)) times[[i]] else times
  d <- data.frame(data = data, batch = paste0("B", i), time = t, y = round(ai + bi * t + rnorm(length(t), 0, s), 3))
  if (drop > 0) d <- d[sort(sample(nrow(d), nrow(d) - drop)), ]
  d }))
pulls <- c(0, 3, 6, 9, 12, 18, 24)
data <- rbind(
  data.frame(data = "orthodont", batch = as.character(Orthodont$Subject), time = Orthodont$age, y = as.numeric(Orthodont$distance)),
  data.frame(data = "oxboys", batch = paste0("S", as.character(Oxboys$Subject)), time = as.numeric(Oxboys$age) + 2, y = as.numeric(Oxboys$height)),
  make("six", 6, pulls, 100, 1, -0.4, 0.08, 0.2, 0.6),
  make("ten", 10, pulls, 100, 1.2, -0.4, 0.1, -0.3, 0.5, drop = 1),
  make("unequal", 7, list(pulls, pulls, c(0, 3, 6, 9, 12), c(0, 3, 6, 9, 12), c(0, 6), 0:6, 3), 100, 1.5, -0.4, 0.15, 0, 0.5),
  make("precise", 5, pulls, 100, 1, -0.4, 0.05, 0.5, 0.005),
  make("three", 3, pulls, 100, 1, -0.4, 0.05, 0, 0.8),
  make("two", 2, pulls, 100, 1, -0.4, 0.1, 0, 0.8),
  make("intercepts", 8, pulls, 100, 2, -0.4, 0, 0, 0.5),
  make("slopes", 8, pulls, 100, 0, -0.4, 0.1, 0, 0.5),
  make("alike", 6, pulls, 100, 0, -0.4, 0, 0, 1),
  make("alike again", 6, pulls, 100, 0, -0.4, 0, 0, 1),
  make("one way", 6, pulls, 100, 1, -0.4, 0.1, 1, 0.8),
  make("other way", 6, pulls, 100, 2, -0.4, 0.1, -1, 0.5, drop = 2))
# Batches whose own lines are closer together than their error makes them: no
# variation between them is the answer.
data <- rbind(data, do.call(rbind, lapply(1:4, function(i) data.frame(data = "none", batch = paste0("B", i), time = pulls,
  y = round(100 + 0.1 * i - 0.4 * pulls + resid(lm(rnorm(7) ~ pulls)), 3)))))
write.csv(data, "data.csv", row.names = FALSE, quote = FALSE)

fits <- do.call(rbind, lapply(unique(data$data), function(name) {
  d <- data[data$data == name, ]; d$batch <- factor(d$batch)
  l <- tryCatch(lme(y ~ time, d, random = ~ time | batch,
    control = lmeControl(maxIter = 500, msMaxIter = 500, tolerance = 1e-12, msTol = 1e-13, opt = "nlminb")), error = function(e) NULL)
  g <- suppressWarnings(suppressMessages(lmerTest::lmer(y ~ time + (time | batch), d,
    control = lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-11, maxfun = 1e6), check.conv.singular = "ignore", check.conv.grad = "ignore", check.conv.hess = "ignore"))))
  v <- as.data.frame(VarCorr(g)); th <- getME(g, "theta")
  satt <- function(l) { c <- contest1D(g, l, confint = FALSE); c(c[["Std. Error"]], c[["df"]]) }
  i <- satt(c(1, 0)); s <- satt(c(0, 1)); m <- satt(c(1, 20))
  data.frame(data = name, loglik_lme = if (is.null(l)) NA else as.numeric(logLik(l)), loglik_lmer = as.numeric(logLik(g)),
    intercept = fixef(g)[[1]], slope = fixef(g)[[2]], intercept_se = i[1], slope_se = s[1], mean20_se = m[1],
    intercept_df = i[2], slope_df = s[2], mean20_df = m[2],
    intercept_sd = v$sdcor[1], slope_sd = v$sdcor[2], correlation = v$sdcor[3], residual_sd = sigma(g), singular = isSingular(g, tol = 1e-4))
}))

# The generalized limit: P(theta <= y) of mu - z*sqrt(d) at a time, for lines by
# lm; V and U drawn by their quantile functions, d solved for by uniroot.
generalized <- function(d, t, z) {
  lines <- Filter(function(b) length(unique(b$time)) > 1, split(d, d$batch))
  f <- lapply(lines, function(b) lm(y ~ time, b))
  rows <- cbind(1, t)
  est <- sapply(f, function(x) sum(rows * coef(x)))
  h <- sapply(f, function(x) drop(rows %*% summary(x)$cov.unscaled %*% t(rows)))
  rss <- sum(sapply(split(d, d$batch), function(b) if (length(unique(b$time)) > 1) deviance(lm(y ~ time, b)) else deviance(lm(y ~ 1, b))))
  free <- nrow(d) - 2 * length(lines) - (length(unique(d$batch)) - length(lines))
  m <- length(lines)
  parts <- function(v, s2) { w <- 1 / (v + s2 * h); mu <- sum(w * est) / sum(w); c(mu, sum(w), sum(w * (est - mu)^2)) }
  function(y) {
    given <- function(s2) {
      z0 <- parts(0, s2); top <- pchisq(z0[3], m - 1)
      at <- function(u) { # u: probability of U, below top
        U <- qchisq(u, m - 1); hi <- 1
        while (parts(hi, s2)[3] > U) hi <- hi * 4
        v <- uniroot(function(v) parts(v, s2)[3] - U, c(0, hi), tol = 1e-13 * hi)$root
        p <- parts(v, s2); pnorm((y - p[1] + z * sqrt(v)) * sqrt(p[2])) }
      # u = top*(1 - r^2): the square root of v at its start is smooth in r
      inner <- if (top < 1e-12) 0 else pieces(function(q) at(top * (1 - q^2)) * 2 * q * top, c(0, 0.3, 0.6, 0.8, 0.9, 0.97, 0.995, 0.9999, 1))
      inner + (1 - top) * pnorm((y - z0[1]) * sqrt(z0[2]))
    }
    pieces(function(p) given(rss / qchisq(p, free)), c(0, 1e-9, 1e-7, 1e-5, 1e-3, 0.02, 0.1, 0.4, 0.8, 0.98, 1))
  }
}
# Gauss-Legendre on pieces, 12 points each (nodes by Golub & Welsch).
gauss <- local({ n <- 12; k <- 1:(n - 1); b <- k / sqrt(4 * k^2 - 1)
  J <- matrix(0, n, n); J[cbind(k, k + 1)] <- b; J[cbind(k + 1, k)] <- b
  e <- eigen(J, symmetric = TRUE); list(x = e$values, w = 2 * e$vectors[1, ]^2) })
pieces <- function(f, cut) sum(sapply(seq_len(length(cut) - 1), function(i) {
  half <- (cut[i + 1] - cut[i]) / 2
  half * sum(gauss$w * sapply(cut[i] + half * (1 + gauss$x), f)) }))
cases <- data.frame(data = c("six", "ten", "unequal", "three", "alike", "slopes", "two", "none"), time = c(24, 30, 18, 12, 24, 0, 24, 36))
limits <- do.call(rbind, lapply(seq_len(nrow(cases)), function(i) {
  d <- data[data$data == cases$data[i], ]
  P <- generalized(d, cases$time[i], qnorm(0.95))
  fit <- lm(y ~ time, d)
  mid <- sum(c(1, cases$time[i]) * coef(fit))
  do.call(rbind, lapply(c(0, 2, 4), function(below) data.frame(cases[i, ], y = mid - below, below = P(mid - below))))
}))
exact <- function(d) { for (j in names(d)) if (is.double(d[[j]])) d[[j]] <- ifelse(is.na(d[[j]]), "", sprintf("%.14g", d[[j]])); d }
write.csv(exact(fits), "fits.csv", row.names = FALSE, quote = FALSE)
write.csv(exact(limits), "limits.csv", row.names = FALSE, quote = FALSE)

# All parameters by lme, with its EM steps first, where it is sure of them.
lmes <- do.call(rbind, lapply(c("orthodont", "oxboys"), function(name) {
  d <- data[data$data == name, ]
  l <- lme(y ~ time, d, random = ~ time | batch, control = lmeControl(maxIter = 500, msMaxIter = 500, niterEM = 100, tolerance = 1e-12, msTol = 1e-13, opt = "nlminb"))
  g <- getVarCov(l)
  data.frame(data = name, intercept = fixef(l)[[1]], slope = fixef(l)[[2]], intercept_se = sqrt(vcov(l)[1, 1]), slope_se = sqrt(vcov(l)[2, 2]),
    intercept_sd = sqrt(g[1, 1]), slope_sd = sqrt(g[2, 2]), correlation = g[1, 2] / sqrt(g[1, 1] * g[2, 2]), residual_sd = l$sigma)
}))
write.csv(exact(lmes), "lme.csv", row.names = FALSE, quote = FALSE)
