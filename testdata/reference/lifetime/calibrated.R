# The calibrated bound of lifetimes where more is known than by likelihood:
#   Rscript calibrated.R
# writes cuts.csv, how deep below its top the profile is at the bound, as the
# square root of m ln(1 + t^2/nu) with R's qt, and complete.csv, on samples of
# lognormal lives that are all known exactly (the logs are normal scores, which are
# no sample but have mean and spread all the same): their mean and standard
# deviation on the log scale, Student's lower bound of the median, the calibrated
# one in closed form, and how often the profile's, the calibrated bound and one with
# nu = n - 1 cover the quantile, exactly, by the noncentral t distribution.
cuts <- NULL
for (confidence in c(0.5, 0.8, 0.95, 0.99, 0.999)) for (nu in c(1, 1.5, 2, 3, 5, 10, 30, 99.5, 999, 1001, 5000, 1e5)) for (more in c(0, 2)) {
  # From 1 - B = nu / (nu + t^2), B the tail of a beta distribution: digits stay.
  b <- qbeta(2 * (1 - confidence), nu / 2, 1 / 2, log.p = FALSE)
  cut <- if (confidence == 0.5) 0 else sqrt((nu + more) * log1p(qt(confidence, nu)^2 / nu))
  if (confidence > 0.5) stopifnot(abs(cut / sqrt(-(nu + more) * log(b)) - 1) < 1e-9)
  cuts <- rbind(cuts, data.frame(m = nu + more, nu, confidence, cut = sprintf("%.12g", cut)))
}
write.csv(cuts, "cuts.csv", row.names = FALSE, quote = FALSE)

complete <- NULL
for (n in c(3, 4, 5, 7, 10, 15, 20, 50, 100)) {
  y <- 2 + 0.5 * qnorm((1:n - 0.5) / n)
  nu <- max(1, n - 2)
  t <- qt(0.95, nu)
  # n ln(1 + T^2/(n - 1)) = n ln(1 + t^2/nu), T being the bound's own t statistic.
  calibrated <- mean(y) - t * sqrt((n - 1) / nu) * sd(y) / sqrt(n)
  student <- mean(y) - qt(0.95, n - 1) * sd(y) / sqrt(n)
  # Of the mean less k standard deviations, with the quantile zp held there.
  coverage <- function(share, cut) {
    z <- qnorm(share)
    deficit <- function(k) {
      f <- function(ls) -n * ls - ((n - 1) + n * (k + z * exp(ls))^2) / (2 * exp(2 * ls))
      2 * (-n * log((n - 1) / n) / 2 - n / 2 - optimize(f, c(-3, 6), maximum = TRUE, tol = 1e-12)$objective)
    }
    least <- -z * sqrt((n - 1) / n) # that of greatest likelihood
    far <- least + 1
    while (deficit(far) < cut^2) far <- 2 * far
    k <- uniroot(function(k) deficit(k) - cut^2, c(least, far), tol = 1e-12)$root
    pt(sqrt(n) * k, n - 1, ncp = -z * sqrt(n))
  }
  mine <- sqrt(n * log1p(t^2 / nu)); other <- sqrt(n * log1p(qt(0.95, n - 1)^2 / (n - 1)))
  complete <- rbind(complete, data.frame(n, mean = mean(y), sd = sd(y), student = exp(student), calibrated = exp(calibrated),
    profile_covers = coverage(0.05, qnorm(0.95)), calibrated_covers = coverage(0.05, mine), less_one_covers = coverage(0.05, other)))
}
complete[-1] <- lapply(complete[-1], function(v) sprintf("%.12g", v))
write.csv(complete, "complete.csv", row.names = FALSE, quote = FALSE)
