# Fisher's exact test of 2x2 tables by fisher.test. Run in this folder: Rscript fisher.R
# It writes fisher.csv. fisher.test finds the odds ratio and its interval to four digits only;
# here they are found again by their definitions and held against it. Made with R 4.2.2.
set.seed(5)
tables <- rbind(c(3, 1, 1, 3), c(10, 2, 3, 15), c(0, 5, 5, 0), c(5, 0, 0, 5), c(0, 20, 3, 17), c(3, 17, 0, 20),
  c(0, 12, 0, 9), c(4, 0, 7, 0), c(0, 0, 3, 4), c(2, 3, 0, 0), c(0, 0, 0, 1), c(1, 0, 0, 0), c(7, 7, 7, 7), c(1, 1, 1, 1), c(1, 9, 11, 3),
  c(2, 98, 11, 89), c(0, 300, 6, 294), c(500, 500, 400, 600), c(1, 999999, 3, 999997), c(30, 199970, 70, 299930),
  c(12000, 8000, 11000, 9000), c(100, 100, 100, 100), c(900, 100, 100, 900), c(3, 1000, 20, 900), c(250000, 250000, 251000, 249000))
for (n in c(6, 20, 60, 300)) for (i in 1:20) { m <- 1 + rbinom(1, n - 2, runif(1)); p <- runif(2, 0, 0.6)
  a <- rbinom(1, m, p[1]); b <- rbinom(1, n - m, p[2]); tables <- rbind(tables, c(a, m - a, b, n - m - b)) }
tables <- unique(tables)
answer <- function(v, confidence) {
  T <- matrix(v, 2, byrow = TRUE)
  f <- function(alternative) fisher.test(T, alternative = alternative, conf.level = confidence)
  two <- f("two.sided")
  m <- sum(T[1, ]); n <- sum(T[2, ]); k <- sum(T[, 1]); x <- T[1, 1]
  lo <- max(0, k - n); hi <- min(k, m); s <- lo:hi
  base <- dhyper(s, m, n, k, log = TRUE)
  d <- function(l) { y <- base + l * s; y <- exp(y - max(y)); y / sum(y) }
  root <- function(g) exp(uniroot(g, c(-40, 40), tol = 1e-15, maxiter = 10000)$root)
  tail <- (1 - confidence) / 2
  odds <- if (lo == hi) NaN else if (x == lo) 0 else if (x == hi) Inf else root(function(l) sum(s * d(l)) - x)
  low <- if (x == lo) 0 else root(function(l) log(sum(d(l)[s >= x])) - log(tail))
  high <- if (x == hi) Inf else root(function(l) log(sum(d(l)[s <= x])) - log(tail))
  near <- function(a, b) a == b || abs(a / b - 1) < 2e-3 || abs(a - b) < 2e-4 || abs(1 / a - 1 / b) < 2e-4 # it solves for the ratio or its inverse to 1.2e-4
  if (lo != hi) stopifnot(near(odds, two$estimate)); stopifnot(near(low, two$conf.int[1]), near(high, two$conf.int[2]))
  data.frame(a = v[1], b = v[2], c = v[3], d = v[4], confidence, p = two$p.value, less = f("less")$p.value, greater = f("greater")$p.value,
    odds, low, high)
}
out <- do.call(rbind, lapply(seq_len(nrow(tables)), function(i) answer(tables[i, ], c(0.95, 0.9, 0.99)[i %% 3 + 1])))
for (j in 1:4) out[[j]] <- sprintf("%d", as.integer(out[[j]]))
for (j in 5:11) out[[j]] <- sprintf("%.15g", out[[j]])
write.csv(out, "fisher.csv", row.names = FALSE, quote = FALSE)
