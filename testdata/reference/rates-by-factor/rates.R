# Rates by pack and orientation, crossed, over batches, and their contrasts: lm and
# emtrends of emmeans (Debian's r-cran-emmeans). Each batch has a start of its own in
# each pack; its rate is its own, plus that of the pack in the orientation. The rate of
# a pack in an orientation is the mean over batches, each counting alike, as emmeans
# takes it. Data from a seed, unbalanced: batch 2 has no inverted tube, batch 3 is
# younger, batch 4 has one unit a pull.
# Run in this folder: Rscript rates.R
library(emmeans)
options(digits = 15)
set.seed(20260402)
write <- function(x, file) write.csv(format(x, digits = 15, trim = TRUE), file, row.names = FALSE, quote = FALSE)
d <- expand.grid(unit = 1:2, months = c(0, 3, 6, 9, 12, 18), orientation = c("upright", "inverted"), pack = c("jar", "tube"), batch = 1:4, stringsAsFactors = FALSE)
d <- d[!(d$months == 0 & d$orientation == "inverted"), ]   # a start is measured once
d <- d[!(d$batch == 2 & d$pack == "tube" & d$orientation == "inverted"), ]
d <- d[!(d$batch == 3 & d$months == 18), ]
d <- d[!(d$batch == 4 & d$unit == 2), ]
rate <- c(-0.30, -0.34, -0.31, -0.36)[d$batch] + c(jar = 0, tube = -0.05)[d$pack] + c(upright = 0, inverted = -0.03)[d$orientation] -
  0.06 * (d$pack == "tube" & d$orientation == "inverted")
start <- rnorm(8) * 0.5
d$value <- round(100 + start[d$batch + 4 * (d$pack == "tube")] + rate * d$months + rnorm(nrow(d)) * 0.5, 4)
write(d[, c("batch", "pack", "orientation", "months", "unit", "value")], "data.csv")

d$batch <- factor(d$batch)
d$pack <- factor(d$pack, c("jar", "tube")); d$orientation <- factor(d$orientation, c("upright", "inverted"))
additive <- lm(value ~ batch * pack + months + months:batch + months:(pack * orientation), d)
own <- lm(value ~ batch * pack + months:(batch:pack:orientation), d)
print(anova(additive, own))                                  # p is above 0.25, so that the residual is the error
stopifnot(anova(additive, own)[2, "Pr(>F)"] > 0.25)

trends <- emtrends(additive, ~ pack * orientation, var = "months")
print(trends)
rates <- summary(trends, infer = c(TRUE, TRUE))
rates <- data.frame(pack = rates$pack, orientation = rates$orientation, rate = rates$months.trend, se = rates$SE, df = rates$df)
write(rates, "rates.csv")

# The grid is jar upright, tube upright, jar inverted, tube inverted.
contrasts <- contrast(trends, list(
  "pack: tube upright / jar upright" = c(-1, 1, 0, 0), "pack: tube inverted / jar inverted" = c(0, 0, -1, 1),
  "orientation: jar inverted / jar upright" = c(-1, 0, 1, 0), "orientation: tube inverted / tube upright" = c(0, -1, 0, 1),
  "pack × orientation: tube inverted / jar inverted" = c(1, -1, -1, 1)))
s <- summary(contrasts, infer = c(TRUE, TRUE), adjust = "none")
write(data.frame(what = s$contrast, value = s$estimate, se = s$SE, df = s$df, low = s$lower.CL, high = s$upper.CL, p = s$p.value), "contrasts.csv")
