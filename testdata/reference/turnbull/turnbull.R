# Nonparametric estimates of interval-censored lifetimes:
#   Rscript turnbull.R
# writes intervals.csv (our own, from a seed, and the turbine wheels of R's
# survival package, Nelson 1982) and turnbull.csv: the shares by Turnbull's
# self-consistency, written out here and run until nothing moves, and the
# survival just after each jump by survfit, whose loop is the same but stops at
# 5e-5; its tolerance is set to 1e-12.
library(survival)
tight <- survival:::survfitTurnbull
body(tight) <- parse(text = sub("5e-05", "1e-12", deparse(body(tight), width.cutoff = 500)))[[1]]

selfconsistent <- function(after, by, w) {
  # Innermost intervals by their definition: (l, r] with l a left end, r a right
  # end, l < r, and no end between; a point is its own.
  point <- after == by
  cells <- NULL
  for (l in unique(after[!point])) {
    r <- min(by[by > l])
    if (!any(after > l & after < r) && !any(point & by == r))
      cells <- rbind(cells, c(l, r))
  }
  for (x in unique(by[point])) cells <- rbind(cells, c(x, x))
  cells <- cells[order(cells[, 1], cells[, 2]), , drop = FALSE]
  a <- outer(seq_along(after), seq_len(nrow(cells)), function(i, j)
    ifelse(point[i], cells[j, 1] == after[i] & cells[j, 2] == by[i],
      ifelse(cells[j, 1] == cells[j, 2], after[i] < cells[j, 1] & cells[j, 2] <= by[i],
             after[i] <= cells[j, 1] & cells[j, 2] <= by[i])))
  a <- matrix(as.numeric(a), nrow = length(after))
  p <- rep(1 / nrow(cells), nrow(cells))
  for (k in 1:2000000) {
    g <- as.vector(crossprod(a, w / as.vector(a %*% p))) / sum(w)
    new <- p * g
    if (max(abs(new - p)) < 1e-16) break
    p <- new
  }
  g <- as.vector(crossprod(a, w / as.vector(a %*% p))) / sum(w)
  list(cells = cells, p = p, loglik = sum(w * log(as.vector(a %*% p))), steps = k, kkt = max(g) - 1)
}

intervals <- out <- NULL
run <- function(case, after, by, w = rep(1, length(after))) {
  intervals <<- rbind(intervals, data.frame(case, after, by, units = w))
  e <- selfconsistent(after, by, w)
  cat(case, e$steps, "steps, gradient above by", e$kkt, "\n")
  for (j in seq_along(e$p)) if (e$p[j] > 1e-9)
    out <<- rbind(out, data.frame(case, quantity = "share", after = e$cells[j, 1], by = e$cells[j, 2], value = sprintf("%.12g", e$p[j])))
  out <<- rbind(out, data.frame(case, quantity = "loglik", after = NA, by = NA, value = sprintf("%.12g", e$loglik)))
  lo <- ifelse(after == 0, NA, after); hi <- ifelse(is.finite(by), by, NA)
  y <- Surv(lo, hi, type = "interval2")
  f <- tight(factor(rep(1, length(after))), y, w, se.fit = FALSE)
  # survfit sets a jump in the middle of its interval; S is read after it.
  for (j in seq_along(e$p)) if (is.finite(e$cells[j, 2]) && e$p[j] > 1e-9) {
    s <- f$surv[max(which(f$time <= e$cells[j, 2]))]
    out <<- rbind(out, data.frame(case, quantity = "survfit", after = e$cells[j, 1], by = e$cells[j, 2], value = sprintf("%.12g", s)))
  }
}

data(reliability)
run("turbine", c(rep(0, 11), turbine$hours), c(turbine$hours, rep(Inf, 11)),
    c(turbine$failed, turbine$inspected - turbine$failed))

set.seed(31)
looks <- c(1, 2, 3, 6, 9, 12, 18, 24)
life <- exp(rnorm(120, log(9), 0.7))
# Returned and looked at again, some looks left out.
after <- by <- NULL
for (t in life) {
  own <- sort(sample(looks, 5))
  after <- c(after, max(0, own[own < t])); by <- c(by, min(Inf, own[own >= t]))
}
run("returned", after, by)
# Opened once, on days of their own.
life <- exp(rnorm(150, log(8), 0.6)); at <- round(runif(150, 1, 20), 1)
run("opened", ifelse(life > at, at, 0), ifelse(life > at, Inf, at))
# Overlapping intervals of days drawn at random, counts of 1 to 3, and some
# lifetimes known to the day. survfit does not draw apart a point and an interval
# that ends there, so that points lie between.
life <- exp(rnorm(60, log(10), 0.5)); width <- runif(60, 0.5, 8)
lo <- round(pmax(0, life - width * runif(60)), 1); hi <- round(lo + width, 1)
hi[50:60] <- Inf
lo[1:8] <- hi[1:8] <- round(life[1:8], 2) + 0.003
run("mixed", lo, hi, sample(1:3, 60, TRUE))
intervals <- intervals[intervals$units > 0, ]
write.csv(intervals, "intervals.csv", row.names = FALSE, quote = FALSE)
write.csv(out, "turnbull.csv", row.names = FALSE, quote = FALSE)
