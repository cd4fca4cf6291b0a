# Adjusted p-values and critical values of a model with unequal groups and a covariate by
# multcomp (Debian's r-cran-multcomp). Run in this folder: Rscript packs.R
# It writes packs.csv, our own data, and packs-answers.csv. Made with R 4.2.2, multcomp 1.4-22,
# mvtnorm 1.1-3.
suppressMessages({library(mvtnorm); library(multcomp)})
set.seed(21)
w <- function(d, file) { for (j in names(d)) if (is.double(d[[j]])) d[[j]] <- sprintf("%.15g", d[[j]])
  write.csv(d, file, row.names = FALSE, quote = FALSE) }

# Packs, unequal numbers, a covariate.
n <- c(jar = 9, tube = 6, can = 5, pump = 8, sachet = 4)
d <- data.frame(pack = factor(rep(names(n), n), levels = names(n)))
d$months <- round(runif(nrow(d), 0, 24))
d$y <- round(100 - 0.15 * d$months + c(0, -0.3, -1.3, 0.2, -1.1)[as.integer(d$pack)] + rnorm(nrow(d), sd = 0.7), 2)
write.csv(d, "packs.csv", row.names = FALSE, quote = FALSE)
out <- NULL
for (model in c("means", "covariate")) for (set in c("Dunnett", "Tukey")) for (sides in 2:1) if (sides == 2 || set == "Dunnett") {
  fit <- if (model == "means") lm(y ~ pack, d) else lm(y ~ pack + months, d)
  g <- glht(fit, linfct = mcp(pack = set), alternative = if (sides == 2) "two.sided" else "greater")
  s <- summary(g, test = adjusted("single-step", maxpts = 5e5, abseps = 2e-6))
  h <- summary(g, test = adjusted("holm"))
  q <- if (sides == 2) qmvt(0.95, tail = "both", df = g$df, corr = cov2cor(g$linfct %*% vcov(fit) %*% t(g$linfct)), maxpts = 5e5, abseps = 2e-6)$quantile else
    qmvt(0.95, tail = "lower", df = g$df, corr = cov2cor(g$linfct %*% vcov(fit) %*% t(g$linfct)), maxpts = 5e5, abseps = 2e-6)$quantile
  out <- rbind(out, data.frame(model, set, sides, contrast = sub(" - ", ":", names(coef(g))), df = g$df, estimate = s$test$coefficients,
    se = s$test$sigma, t = s$test$tstat, p = s$test$pvalues, error = attr(s$test$pvalues, "error"), holm = h$test$pvalues, critical95 = q))
}
w(out, "packs-answers.csv")

