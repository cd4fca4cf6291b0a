# Reference for what the single units of a weighing lose: own rates, mean and
# standard deviation between units, tolerance factors by the noncentral t, leakers
# by the generalized ESD test about the mean of all or of each batch, and the test
# of a common bend. Makes its own data from a seed, but for the balm, whose masses
# are arithmetic: 120 g less rate x months, of 100 g net, so that 1 g is 1 %.
# Run in this folder: Rscript losses.R
options(digits = 15)
set.seed(20260817)
write <- function(x, file) write.csv(x, file, row.names = FALSE, quote = FALSE)

weigh <- function(case, batch, rates, times, noise = 0, bend = 0) {
  do.call(rbind, lapply(seq_along(rates), function(i)
    data.frame(case = case, batch = batch, unit = paste0("B", batch, "-", i), months = times,
               percent = round(rates[i] * times + bend * times^2 + rnorm(length(times), 0, noise), 4))))
}
times <- c(1, 3, 6, 9, 12)
balm <- rbind(
  weigh("balm", 1, c(0.15, 0.16, 0.17, 0.16, 0.15, 0.17), c(3, 6, 9)),
  weigh("balm", 2, c(0.16, 0.15, 0.17, 0.16, 0.15, 0.55), c(3, 6, 9)))
data <- rbind(balm,
  weigh("pooled", 1, rnorm(6, 0.11, 0.01), times, 0.01),
  weigh("pooled", 2, rnorm(6, 0.11, 0.01), times, 0.01),
  weigh("pooled", 3, c(rnorm(5, 0.11, 0.01), 0.30), times, 0.01),
  weigh("separate", 1, rnorm(5, 0.08, 0.005), times, 0.01),
  weigh("separate", 2, c(rnorm(5, 0.16, 0.005), 0.22), times, 0.01),
  weigh("separate", 3, rnorm(4, 0.24, 0.005), times, 0.01),
  weigh("hides-batches", 1, rnorm(5, 0.10, 0.002), times, 0.005),
  weigh("hides-batches", 2, c(rnorm(5, 0.12, 0.002), 0.60), times, 0.005),
  weigh("two-among-few", 1, c(rnorm(10, 0.11, 0.01), 0.30, 0.301), times, 0.01),
  weigh("three-among-many", 1, c(rnorm(17, 0.11, 0.01), 0.20, 0.21, 0.22), times, 0.01),
  weigh("gains", 1, c(rnorm(11, 0.11, 0.01), -0.05), times, 0.01),
  weigh("bends", 1, rnorm(8, 0.11, 0.01), times, 0.02, 0.004),
  weigh("sound", 1, rnorm(6, 0.11, 0.01), times, 0.01),
  weigh("sound", 2, rnorm(6, 0.11, 0.01), times, 0.01))
write(data, "weighings.csv")

rates <- NULL
for (case in unique(data$case)) for (u in unique(data$unit[data$case == case])) {
  d <- data[data$case == case & data$unit == u, ]
  rates <- rbind(rates, data.frame(case = case, batch = d$batch[1], unit = u,
    rate = unname(coef(lm(percent ~ 0 + months, d))), bend = unname(coef(lm(percent ~ 0 + months + I(months^2), d))[2])))
}
write(rates, "rates.csv")

# Populations, with all units and without the planted leakers.
leakers <- list(balm = "B2-6", pooled = "B3-6", separate = "B2-6", `hides-batches` = "B2-6", `three-among-many` = c("B1-18", "B1-19", "B1-20"))
k <- function(coverage, confidence, n, df) qt(confidence, df, ncp = qnorm(coverage) * sqrt(n)) / sqrt(n)
out <- NULL
for (case in unique(data$case)) for (without in c(FALSE, TRUE)) {
  u <- rates[rates$case == case & !(without & rates$unit %in% leakers[[case]]), ]
  b <- length(unique(u$batch)); decision <- "separate"; p <- NA
  if (b > 1) {
    p <- anova(aov(rate ~ factor(batch), u))$`Pr(>F)`[1]
    if (p >= 0.25) decision <- "pooled"
  }
  fit <- if (decision == "pooled" || b == 1) lm(rate ~ 1, u) else lm(rate ~ 0 + factor(batch), u)
  df <- fit$df.residual; s <- summary(fit)$sigma
  for (i in sort(unique(u$batch))) {
    own <- if (decision == "pooled") u else u[u$batch == i, ]
    m <- mean(own$rate); n <- nrow(own)
    f <- k(0.95, 0.95, n, df); g <- k(0.99, 0.90, n, df); h <- k(0.975, 0.975, n, df)
    out <- rbind(out, data.frame(case = case, without = without, batch = i, decision = decision, p = p, mean = m, sd = s, df = df,
      factor = f, upper = m + f * s, factor99 = g, within = if (m + f * s > 0) 5 / (m + f * s) else Inf,
      # either way: no more than 1 % gained nor 5 % lost, each side at half
      either = min(if (m + h * s > 0) 5 / (m + h * s) else Inf, if (m - h * s < 0) -1 / (m - h * s) else Inf)))
  }
}
write(format(out, digits = 15, trim = TRUE), "populations.csv")

# Leakers: studentized residuals about a mean for each group, by lm and rstandard.
steps <- NULL
gesr <- function(case, grouped, most, alpha = 0.05) {
  u <- rates[rates$case == case, ]
  u$g <- if (grouped) u$batch else 1
  rows <- NULL
  for (i in seq_len(most)) {
    v <- u[u$g %in% names(which(table(u$g) > 1)), ]
    fit <- if (length(unique(v$g)) > 1) lm(rate ~ factor(g), v) else lm(rate ~ 1, v)
    r <- abs(rstandard(fit)); m <- nrow(v); df <- fit$df.residual
    t <- qt(1 - alpha / (2 * m), df - 1)
    j <- which.max(r)
    rows <- rbind(rows, data.frame(case = case, grouped = grouped, most = most, step = i, unit = v$unit[j], R = r[j], lambda = t * sqrt(df) / sqrt(df - 1 + t^2)))
    u <- u[u$unit != v$unit[j], ]
  }
  over <- which(rows$R > rows$lambda)
  rows$outliers <- if (length(over)) max(over) else 0
  steps <<- rbind(steps, rows)
}
gesr("balm", FALSE, 1); gesr("balm", TRUE, 1)
gesr("pooled", FALSE, 3); gesr("pooled", TRUE, 3)
gesr("separate", TRUE, 1); gesr("separate", FALSE, 3)
gesr("hides-batches", FALSE, 1); gesr("hides-batches", TRUE, 1)
gesr("two-among-few", FALSE, 1); gesr("two-among-few", FALSE, 3)
gesr("three-among-many", FALSE, 4)
gesr("gains", FALSE, 1); gesr("sound", FALSE, 1)
write(format(steps, digits = 15, trim = TRUE), "leakers.csv")

# A common bend: the units' own quadratic terms against zero, by t.test.
bends <- NULL
for (case in setdiff(unique(data$case), "balm")) {
  x <- rates$bend[rates$case == case]
  t <- t.test(x)
  bends <- rbind(bends, data.frame(case = case, units = length(x), curvature = unname(t$estimate), F = unname(t$statistic)^2, df = unname(t$parameter), p = t$p.value))
}
write(format(bends, digits = 15, trim = TRUE), "bends.csv")
