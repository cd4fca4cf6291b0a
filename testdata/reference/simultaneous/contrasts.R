# Contrasts of any kind, singular sets among them, by mvtnorm (Debian's r-cran-mvtnorm).
# Run in this folder: Rscript contrasts.R
# It writes contrasts.csv, drawn from a seed, and contrasts-answers.csv. Made with R 4.2.2,
# mvtnorm 1.1-3.
suppressMessages(library(mvtnorm))
set.seed(22)
w <- function(d, file) { for (j in names(d)) if (is.double(d[[j]])) d[[j]] <- sprintf("%.15g", d[[j]])
  write.csv(d, file, row.names = FALSE, quote = FALSE) }

rows <- NULL; out <- NULL
for (case in 1:12) {
  p <- c(3, 4, 4, 5, 5, 6)[(case - 1) %% 6 + 1]; k <- p + c(-1, 0, 2)[(case - 1) %% 3 + 1]; df <- c(4, 11, 60, Inf)[(case - 1) %% 4 + 1]
  A <- matrix(rnorm(p * p), p); V <- A %*% t(A) + 0.2 * diag(p)
  C <- matrix(rnorm(k * p), k)
  if (case %% 2 == 0) C[k, ] <- C[1, ] - 2 * C[2, ]
  for (i in 1:k) rows <- rbind(rows, data.frame(case, what = "contrast", numbers = paste(sprintf("%.17g", C[i, ]), collapse = " ")))
  for (i in 1:p) rows <- rbind(rows, data.frame(case, what = "covariance", numbers = paste(sprintf("%.17g", V[i, ]), collapse = " ")))
  R <- cov2cor(C %*% V %*% t(C))
  for (sides in 2:1) for (q in c(1, 2, 2.6, 3.5)) {
    lower <- if (sides == 2) rep(-q, k) else rep(-Inf, k)
    control <- GenzBretz(maxpts = 1e6, abseps = 5e-6)
    m <- if (is.infinite(df)) pmvnorm(lower, rep(q, k), corr = R, algorithm = control) else
      pmvt(lower, rep(q, k), df = df, corr = R, algorithm = control)
    out <- rbind(out, data.frame(case, df = sprintf("%g", df), sides, q, p = 1 - as.numeric(m), error = attr(m, "error"))) }
}
w(rows, "contrasts.csv"); w(out, "contrasts-answers.csv")
