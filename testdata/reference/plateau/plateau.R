# Reference for curves: nls, and bounds of the time a mean meets a limit by uniroot
# on sums of squares with the mean held on the limit, each the least over the
# rate (or exponent) by optimize from a grid, the rest by lm.fit. Reads
# misra1a.csv; makes the rest from a seed. Run in this folder: Rscript plateau.R
options(digits = 15)
set.seed(20260307)
write <- function(x, file) write.csv(format(x, digits = 15, trim = TRUE), file, row.names = FALSE, quote = FALSE)
months <- c(0, 1, 2, 3, 6, 9, 12, 18, 24)
make <- function(set, mean, batches = 1, sd, times = months) {
  d <- expand.grid(months = times, batch = seq_len(batches))
  data.frame(set = set, batch = d$batch, months = d$months, value = signif(mean(d$months, d$batch) + rnorm(nrow(d)) * sd, 6))
}
misra <- read.csv("../misra1a.csv")
data <- rbind(
  data.frame(set = "misra1a", batch = 1, months = misra$x, value = misra$y),
  make("thickens", function(t, b) 20 + 15 * (1 - exp(-0.2 * t)), sd = 0.4),
  make("loses", function(t, b) 100 - 12 * (1 - exp(-0.08 * t)), sd = 0.3, batches = 3),
  make("parallel", function(t, b) c(50, 53, 47)[b] - 8 * (1 - exp(-0.3 * t)), sd = 0.3, batches = 3),
  make("apart", function(t, b) 50 + c(5, 8, 12)[b] * (1 - exp(-c(0.1, 0.2, 0.35)[b] * t)), sd = 0.2, batches = 3),
  make("no start", function(t, b) 30 - 10 * (1 - exp(-0.15 * t)), sd = 0.15, times = c(2, 4, 6, 9, 12, 18, 24)),
  make("swells", function(t, b) 1 + 0.8 * t^0.6, sd = 0.15, batches = 2),
  make("runs away", function(t, b) 5 + 0.02 * t^1.8, sd = 0.15, batches = 2))
write(data, "data.csv")
limits <- read.csv(text = "set,model,level,above,share,confidence
misra1a,approach-to-plateau,100,TRUE,0,0.95
thickens,approach-to-plateau,33,TRUE,0,0.95
thickens,approach-to-plateau,10,TRUE,1,0.95
loses,approach-to-plateau,90,FALSE,0,0.95
loses,approach-to-plateau,0,FALSE,0.92,0.9
parallel,approach-to-plateau,43,FALSE,0,0.95
apart,approach-to-plateau,54,TRUE,0,0.95
no start,approach-to-plateau,23,FALSE,0,0.95
swells,power-of-time,8,TRUE,0,0.95
swells,power-of-time,4,TRUE,1,0.95
runs away,power-of-time,15,TRUE,0,0.95")
write(limits, "limits.csv")

course <- list("approach-to-plateau" = function(k, t) 1 - exp(-k * t), "power-of-time" = function(k, t) t^k)
least <- function(f, grid) {
  v <- sapply(grid, f); i <- which.min(v)
  if (i == 1 || i == length(grid)) return(v[i])
  min(v[i], optimize(f, c(grid[i - 1], grid[i + 1]), tol = 1e-12)$objective)
}
sse <- function(Y, y) sum(lm.fit(Y, y)$residuals^2)
control <- nls.control(tol = 1e-7, maxiter = 500, minFactor = 2^-40, nDcentral = TRUE)
fits <- lives <- NULL
for (s in unique(data$set)) {
  d <- data[data$set == s, ]; B <- max(d$batch); model <- limits$model[limits$set == s][1]
  x <- course[[model]]; N <- nrow(d); T <- max(d$months)
  # From all but a straight line to a change that is over at the first time.
  grid <- if (model == "power-of-time") exp(seq(log(0.05), log(20), length.out = 160))
          else exp(seq(log(1e-3 / T), log(15 / min(d$months[d$months > 0])), length.out = 200))
  for (decision in if (B > 1) c("separate", "common-slope", "pooled") else "separate") {
    pieces <- if (decision == "separate") lapply(seq_len(B), function(b) d$batch == b) else list(rep(TRUE, N))
    p <- switch(decision, separate = 3 * B, "common-slope" = B + 2, pooled = 3)
    found <- lapply(pieces, function(rows) {
      q <- d[rows, ]
      one <- if (decision == "common-slope") outer(q$batch, seq_len(B), "==") * 1 else matrix(1, nrow(q), 1)
      q$g <- if (decision == "common-slope") q$batch else 1
      k <- grid[which.min(sapply(grid, function(k) sse(cbind(one, x(k, q$months)), q$value)))]
      start <- unname(lm.fit(cbind(one, x(k, q$months)), q$value)$coefficients)
      a <- start[-length(start)]; D <- start[length(start)]
      f <- if (model == "power-of-time") nls(value ~ a[g] + D * months^k, q, start = list(a = a, D = D, k = k), control = control)
           else nls(value ~ a[g] + (P - a[1]) * (1 - exp(-k * months)), q, start = list(a = a, P = a[1] + D, k = k), control = control)
      list(f = f, rss = deviance(f), one = one, q = q)
    })
    rss <- sum(sapply(found, `[[`, "rss")); df <- N - p; S <- sqrt(rss / df)
    for (b in seq_len(B)) {
      u <- found[[if (decision == "separate") b else 1]]; m <- if (decision == "common-slope") b else 1
      co <- unname(coef(u$f)); A <- length(co) - 2
      # Errors by the S of all; of parallel curves the first batch's plateau alone
      # is a parameter.
      se <- unname(sqrt(diag(vcov(u$f))) / sigma(u$f) * S)
      fits <- rbind(fits, data.frame(set = s, model = model, decision = decision, batch = b, rss = rss, df = df,
        start = co[m], start_se = se[m], second = if (m == 1) co[A + 1] else NA, second_se = if (m == 1) se[A + 1] else NA,
        shape = co[A + 2], shape_se = se[A + 2]))
      mean <- function(t) if (model == "power-of-time") co[m] + co[A + 1] * t^co[A + 2] else co[m] + (co[A + 1] - co[1]) * (1 - exp(-co[A + 2] * t))
      for (l in which(limits$set == s)) {
        L <- limits[l, ]
        off <- function(t) mean(t) - L$share * mean(0) - L$level
        far <- T * 50
        estimate <- if (off(0) * off(far) < 0) uniroot(off, c(0, far), tol = 1e-11)$root else Inf
        bound <- NA
        if (is.finite(estimate)) {
          allowance <- rss * qt(L$confidence, df)^2 / df
          q <- u$q; own <- if (decision == "common-slope") (q$batch == b) * 1 else rep(1, nrow(q))
          # a(1 - share) + D x(tau) = level; with share 1, D = level/x(tau).
          held <- function(tau) least(function(k) {
            xt <- x(k, tau); X <- x(k, q$months)
            if (L$share == 1) return(sse(u$one, q$value - X * L$level / xt))
            left <- 1 - L$share
            sse(cbind(u$one[, -m, drop = FALSE], X - own * xt / left), q$value - own * L$level / left)
          }, grid) - (u$rss + allowance)
          low <- estimate * 1e-3
          bound <- if (held(low) < 0) NA else uniroot(held, c(low, estimate), tol = 1e-10)$root
        }
        lives <- rbind(lives, data.frame(set = s, decision = decision, batch = b, limit = l, estimate = estimate, bound = bound))
      }
    }
  }
}
write(fits, "fits.csv")
write(lives, "lives.csv")
