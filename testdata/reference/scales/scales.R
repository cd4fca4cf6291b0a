# Bench, pilot and production batches compared for equivalence of rates and starts, by
# two one-sided tests from base R's lm:
#   Rscript scales.R
# Rates: lm of all results, a start for each batch and pack, a rate for each batch plus
# the pack's; then lm of the batches' rates on scale and thickener, each batch once.
# The margin is the change of rate that costs 3 of 30 months at the rate that just lasts
# 30, from the mean fitted start to 90. Starts: the batches' means at time zero, by the
# t test of equal variances; the margin is what costs 3 months at that rate. The slopes'
# poolability test beside it is anova's, pack by pack, the least p. Data from a seed.
options(digits = 15)
set.seed(20260404)
write <- function(x, file) write.csv(format(x, digits = 15, trim = TRUE), file, row.names = FALSE, quote = FALSE)
batches <- data.frame(batch = 1:9, scale = rep(c("bench", "pilot", "production"), c(4, 3, 2)), thickener = c("clay", "gum", "clay", "gum", "clay", "gum", "clay", "gum", "clay"))
write(batches, "batches.csv")
d <- expand.grid(unit = 1:2, months = c(0, 3, 6, 9, 12, 18), pack = c("jar", "tube"), batch = 1:9, stringsAsFactors = FALSE)
d <- d[!(d$batch == 5 & d$months == 18) & !(d$batch == 8 & d$pack == "tube"), ]
rate <- -0.20 - 0.03 * (batches$thickener == "gum") - 0.005 * (batches$scale == "pilot") - 0.02 * (batches$scale == "production") + rnorm(9) * 0.008
start <- matrix(100 + rnorm(9) * 0.3, 9, 2) + rnorm(18) * 0.05
d$value <- round(start[cbind(d$batch, 1 + (d$pack == "tube"))] + (rate[d$batch] - 0.03 * (d$pack == "tube")) * d$months + rnorm(nrow(d)) * 0.25, 4)
write(d[, c("batch", "pack", "months", "unit", "value")], "data.csv")

d$b <- factor(d$batch); d$p <- factor(d$pack); d$tube <- (d$pack == "tube") * d$months
d$start <- interaction(d$b, d$p, drop = TRUE)
additive <- lm(value ~ 0 + start + b:months + tube, d)
g <- coef(additive)[paste0("b", 1:9, ":months")]
q <- cbind(batches, g = unname(g))
q$scale <- relevel(factor(q$scale), "bench"); q$thickener <- factor(q$thickener)   # gum against clay, which most have
between <- lm(g ~ scale + thickener, q)
against <- coef(between)[[1]] + coef(additive)[["tube"]] / 2    # in the mean of the packs
s <- coef(additive)[grep("^start", names(coef(additive)))]
from <- mean(c(mean(s[grep("jar", names(s))]), mean(s[grep("tube", names(s))])))
limit <- 90; horizon <- 30; months <- 3
lasting <- (limit - from) / horizon
margin <- abs((limit - from) / (horizon - months) - lasting)
slopes <- min(sapply(c("jar", "tube"), function(k) { x <- d[d$pack == k, ]; anova(lm(value ~ b + months, x), lm(value ~ b * months, x))[2, "Pr(>F)"] }))
out <- NULL
tost <- function(of, level, value, against, difference, se, df, margin, percent, p) {
  lower <- pt((difference + margin) / se, df, lower.tail = FALSE); upper <- pt((difference - margin) / se, df)
  half <- qt(0.95, df) * se; low <- difference - half; high <- difference + half
  verdict <- if (max(lower, upper) <= 0.05) "equivalent" else if (low > 0 || high < 0) "different" else "not-shown"
  out <<- rbind(out, data.frame(of, level, value, against, low, high, margin, percent, p = max(lower, upper), verdict, poolability = p))
}
co <- summary(between)$coefficients
for (k in c("pilot", "production")) {
  r <- co[paste0("scale", k), ]
  tost("rate", k, against + r[[1]], against, r[[1]], r[[2]], between$df.residual, margin, 100 * margin / abs(lasting), slopes)
}
zero <- d[d$months == 0, ]
m <- tapply(zero$value, zero$batch, mean)
for (k in c("pilot", "production")) {
  x <- m[batches$scale == k]; y <- m[batches$scale == "bench"]
  t <- t.test(x, y, var.equal = TRUE)
  tost("start", k, mean(x), mean(y), mean(x) - mean(y), t$stderr, t$parameter, abs(lasting) * months, NA, NA)
}
write(out, "scales.csv")
