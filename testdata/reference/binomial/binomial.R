# One-sided Clopper-Pearson bounds of a share, by binom.test and by qbeta:
#   Rscript binomial.R
# writes binomial.csv. binom.test finds its bounds by qbeta itself; pbinom at the
# bound is the check that both are what the definition asks for.
out <- NULL
for (n in c(1, 3, 10, 22, 59, 93, 300, 1000, 100000)) for (x in unique(c(0, 1, 2, 7, n %/% 2, n - 1, n)))
  for (confidence in c(0.5, 0.8, 0.9, 0.95, 0.99, 0.999)) if (x >= 0 && x <= n) {
    upper <- binom.test(x, n, alternative = "less", conf.level = confidence)$conf.int[2]
    lower <- binom.test(x, n, alternative = "greater", conf.level = confidence)$conf.int[1]
    if (x < n) stopifnot(abs(upper - qbeta(confidence, x + 1, n - x)) < 1e-12,
                         abs(pbinom(x, n, upper) - (1 - confidence)) < 1e-9)
    out <- rbind(out, data.frame(failures = x, units = n, confidence,
                                 lower = sprintf("%.15g", lower), upper = sprintf("%.15g", upper)))
  }
out <- unique(out)
out$units <- format(out$units, scientific = FALSE, trim = TRUE)
out$failures <- format(out$failures, scientific = FALSE, trim = TRUE)
write.csv(out, "binomial.csv", row.names = FALSE, quote = FALSE)
