# The exact conditional test of a common odds ratio over several 2x2 tables, by
# mantelhaen.test(exact = TRUE). Run in this folder: Rscript stratified.R
# It writes tables.csv and stratified.csv. The p-values are those of mantelhaen.test, which
# finds the odds ratio and its interval to four digits only (uniroot's default tolerance,
# 1.2e-4 of the ratio or of its inverse); here they are found again by their definitions, from
# the convolution of dhyper, and held against it. Of what mantelhaen.test refuses (a stratum
# of one unit) and of tables that all have an empty margin the p-values are 1 by definition or
# found from that convolution, too. Data: Rabbits (Agresti, Categorical Data Analysis, 1990,
# p. 238, as in R's help of mantelhaen.test), UCBAdmissions (Bickel, Hammel and O'Connell,
# Science 187, 1975, 398-404; R's datasets), and our own from a seed. Made with R 4.2.2.
set.seed(8)
rabbits <- array(c(0, 0, 6, 5, 3, 0, 3, 6, 6, 2, 0, 4, 5, 6, 1, 0, 2, 5, 0, 0), dim = c(2, 2, 5))
sets <- list(rabbits = rabbits, admissions = array(UCBAdmissions, dim = dim(UCBAdmissions)))
array4 <- function(...) array(c(...), dim = c(2, 2, length(c(...)) / 4))   # column by column: a, c, b, d
sets$one <- array4(3, 1, 1, 3)
sets$none_in_one <- array4(0, 3, 6, 3,  0, 2, 6, 4,  0, 0, 6, 6)
sets$all_in_one <- array4(6, 2, 0, 4,  6, 6, 0, 0,  5, 3, 0, 3)
sets$empty <- array4(0, 0, 6, 6,  6, 6, 0, 0,  0, 0, 3, 0)
sets$one_tells <- array4(5, 1, 1, 5,  0, 0, 6, 6,  6, 5, 0, 0)
sets$turned <- array4(5, 0, 1, 6,  0, 5, 6, 1)
sets$shifted <- array4(1, 0, 11, 12,  6, 3, 6, 9,  11, 7, 1, 5)
sets$lone <- array4(1, 0, 0, 1,  1, 0, 0, 0,  0, 2, 1, 1)
sets$large <- array4(300, 250, 700, 750,  80, 60, 420, 440,  1200, 1100, 300, 400)
sets$unlike <- array4(2, 1, 10, 20,  40, 30, 60, 70,  3, 0, 1, 1)
for (k in c(2, 3, 4, 6, 10)) for (n in c(4, 12)) {
  odds <- sample(c(1, 2, 6), 1)
  v <- NULL
  for (i in seq_len(k)) { p <- plogis(rnorm(1, -1, 1)); q <- plogis(qlogis(p) + log(odds)); a <- rbinom(1, n, q); c <- rbinom(1, n, p); v <- c(v, a, c, n - a, n - c) }
  sets[[paste0("seed", k, "of", n)]] <- array(v, dim = c(2, 2, k))
}
answer <- function(name, confidence) {
  x <- sets[[name]]
  m <- x[1, 1, ] + x[1, 2, ]; n <- x[2, 1, ] + x[2, 2, ]; t <- x[1, 1, ] + x[2, 1, ]
  lo <- pmax(0, t - n); hi <- pmin(m, t); s <- sum(x[1, 1, ]); support <- sum(lo):sum(hi)
  # Log-probabilities of the sum, shift by shift; the largest taken off first.
  base <- 0
  for (i in seq_along(m)) {
    h <- dhyper(lo[i]:hi[i], m[i], n[i], t[i], log = TRUE)
    w <- matrix(-Inf, length(h), length(base) + length(h) - 1)
    for (j in seq_along(h)) w[j, j - 1 + seq_along(base)] <- base + h[j]
    top <- apply(w, 2, max); base <- top + log(colSums(exp(sweep(w, 2, top))))
  }
  d <- function(l) { y <- base + l * support; y <- exp(y - max(y)); y / sum(y) }
  root <- function(g) exp(uniroot(g, c(-40, 40), tol = 1e-15, maxiter = 10000)$root)
  tail <- (1 - confidence) / 2
  L <- sum(lo); H <- sum(hi)
  odds <- if (L == H) NaN else if (s == L) 0 else if (s == H) Inf else root(function(l) sum(support * d(l)) - s)
  low <- if (s == L) 0 else root(function(l) log(sum(d(l)[support >= s])) - log(tail))
  high <- if (s == H) Inf else root(function(l) log(sum(d(l)[support <= s])) - log(tail))
  one <- d(0)
  p <- c(sum(one[one <= one[support == s] * (1 + 1e-7)]), sum(one[support <= s]), sum(one[support >= s]))
  by <- "definition"
  if (dim(x)[3] > 1 && all(apply(x, 3, sum) > 1) && L < H) {
    f <- function(alternative) mantelhaen.test(x, exact = TRUE, alternative = alternative, conf.level = confidence)
    two <- f("two.sided"); theirs <- c(two$p.value, f("less")$p.value, f("greater")$p.value)
    stopifnot(abs(theirs / p - 1) < 1e-9)
    near <- function(a, b) a == b || abs(a / b - 1) < 2e-3 || abs(a - b) < 2e-4 || abs(1 / a - 1 / b) < 2e-4
    stopifnot(near(odds, two$estimate), near(low, two$conf.int[1]), near(high, two$conf.int[2]))
    p <- theirs; by <- "mantelhaen.test"
  } else if (dim(x)[3] == 1) { p <- c(fisher.test(x[, , 1])$p.value, p[-1]); by <- "fisher.test" }
  data.frame(set = name, by, confidence, p = p[1], less = p[2], greater = p[3], odds, low, high)
}
out <- do.call(rbind, lapply(seq_along(sets), function(i) answer(names(sets)[i], c(0.95, 0.9, 0.99)[i %% 3 + 1])))
tables <- do.call(rbind, lapply(names(sets), function(k) { x <- sets[[k]]; data.frame(set = k, a = x[1, 1, ], b = x[1, 2, ], c = x[2, 1, ], d = x[2, 2, ]) }))
for (j in 3:9) out[[j]] <- sprintf("%.15g", out[[j]])
write.csv(out, "stratified.csv", row.names = FALSE, quote = FALSE)
write.csv(tables, "tables.csv", row.names = FALSE, quote = FALSE)
