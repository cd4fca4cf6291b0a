# The general-software equivalent of one `shelfspan shelf-life` process, for
# timing only: for each attribute the three batch models by lm, the two
# poolability tests by anova, and the crossing of the confidence limit by
# uniroot.
#
# usage: Rscript three-models.R results.csv
# results.csv: long form with batch, pulled, attribute, value; lower limit 90,
# time zero the first pull.
d <- read.csv(commandArgs(TRUE)[1])
d$batch <- factor(d$batch)
pulled <- as.Date(d$pulled)
d$t <- as.numeric(pulled - min(pulled)) / 30.4375
life <- sapply(split(d, d$attribute), function(a) {
  separate <- lm(value ~ batch * t, a)
  common <- lm(value ~ batch + t, a)
  pooled <- lm(value ~ t, a)
  slopes <- anova(common, separate)$`Pr(>F)`[2]
  intercepts <- anova(pooled, common, separate)$`Pr(>F)`[2]
  model <- if (slopes < 0.25) separate else if (intercepts < 0.25) common else pooled
  min(sapply(levels(a$batch), function(b) {
    bound <- function(t) predict(model, data.frame(batch = b, t = t), interval = "confidence", level = 0.90)[2] - 90
    if (bound(0) <= 0) return(0)
    if (bound(600) > 0) return(Inf)
    uniroot(bound, c(0, 600), tol = 1e-8)$root
  }))
})
cat(sprintf("%s %.6f\n", names(life), life), sep = "")
