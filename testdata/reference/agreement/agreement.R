# Weighted kappa by the formulas of Fleiss, Cohen & Everitt (1969) as printed, and
# by vcd::Kappa (Debian r-cran-vcd), which must agree:
#   Rscript agreement.R
# writes tables.csv (our own tables, from a seed) and agreement.csv.
suppressMessages(library(vcd))
kappa <- function(counts, v) {
  n <- sum(counts); p <- counts / n
  pr <- rowSums(p); pc <- colSums(p)
  po <- sum(v * p); pe <- sum(v * outer(pr, pc))
  vr <- as.vector(v %*% pc); vc <- as.vector(pr %*% v)
  s <- outer(vr, vc, "+")
  var <- (sum(p * (v * (1 - pe) - s * (1 - po))^2) - (po * pe - 2 * pe + po)^2) / (n * (1 - pe)^4)
  var0 <- (sum(outer(pr, pc) * (v - s)^2) - pe^2) / (n * (1 - pe)^2)
  c(observed = po, expected = pe, kappa = (po - pe) / (1 - pe), se = sqrt(var), nullse = sqrt(var0))
}
set.seed(20)
tables <- out <- NULL
for (case in 1:8) {
  k <- c(2, 3, 4, 4, 5, 7, 4, 3)[case]; n <- c(30, 200, 60, 25, 500, 1000, 12, 40)[case]
  truth <- sample.int(k, n, TRUE, prob = (k:1)^1.5)
  grade <- function() pmin(k, pmax(1, truth + sample(-1:1, n, TRUE, prob = c(0.15, 0.65, 0.2))))
  counts <- table(factor(grade(), 1:k), factor(grade(), 1:k))
  for (i in 1:k) for (j in 1:k) tables <- rbind(tables, data.frame(case, i = i - 1, j = j - 1, count = counts[i, j]))
  d <- abs(outer(1:k, 1:k, "-")) / (k - 1)
  weights <- list(unweighted = diag(k), linear = 1 - d, quadratic = 1 - d^2)
  for (w in names(weights)) {
    mine <- kappa(counts, weights[[w]])
    theirs <- if (w == "unweighted") Kappa(counts)$Unweighted else
      Kappa(counts, weights = if (w == "linear") "Equal-Spacing" else "Fleiss-Cohen")$Weighted
    stopifnot(abs(theirs["value"] / mine["kappa"] - 1) < 1e-12, abs(theirs["ASE"] / mine["se"] - 1) < 1e-10)
    out <- rbind(out, data.frame(case, weights = w, quantity = names(mine), value = sprintf("%.15g", mine)))
  }
}
write.csv(tables, "tables.csv", row.names = FALSE, quote = FALSE)
write.csv(out, "agreement.csv", row.names = FALSE, quote = FALSE)
