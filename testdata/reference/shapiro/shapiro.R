# Reference for the Shapiro-Wilk test: R's shapiro.test. The larger sets are
# quantile functions at (i - 0.5)/n, so that the test can make them itself;
# the small ones are drawn from a seed. Run in this folder: Rscript shapiro.R
options(digits = 15)
set.seed(20260302)
write <- function(x, file) write.csv(x, file, row.names = FALSE, quote = FALSE)
draw <- list(normal = rnorm, lognormal = rlnorm, uniform = runif, t3 = function(n) rt(n, 3), exponential = rexp,
             rounded = function(n) round(rnorm(n), 1) + 20, outlier = function(n) c(rnorm(n - 1), 8))
data <- answers <- NULL
for (n in c(3, 4, 5, 6, 7, 10, 11, 12, 13, 20, 21, 50, 120)) for (d in names(draw)) {
  x <- signif(draw[[d]](n), 6)
  r <- shapiro.test(x)
  set <- paste0(d, n)
  data <- rbind(data, data.frame(set = set, x = x))
  answers <- rbind(answers, data.frame(set = set, n = n, W = unname(r$statistic), p = r$p.value))
}
write(data, "sets.csv")
write(format(answers, digits = 15, trim = TRUE), "answers.csv")
large <- NULL
for (n in c(200, 1000, 1999, 5000)) {
  u <- (seq_len(n) - 0.5) / n
  for (s in c("exponential", "cubed")) {
    x <- if (s == "exponential") -log1p(-u) else (u - 0.5) + (u - 0.5)^3
    r <- shapiro.test(x)
    large <- rbind(large, data.frame(set = s, n = n, W = unname(r$statistic), p = r$p.value))
  }
}
write(format(large, digits = 15, trim = TRUE), "large.csv")
