# Reference for what a fitted line leaves over: rstandard, rstudent and
# hatvalues of lm, Breusch-Pagan by an lm of the squares, lack of fit by anova
# against a factor of the settings, the quadratic term by summary, broken lines by
# lm at every break, and runs by counting all orders of the signs. Reads norris.csv
# and longley.csv; makes the rest from a seed. Run in this folder: Rscript residuals.R
options(digits = 15)
set.seed(20260303)
write <- function(x, file) write.csv(format(x, digits = 15, trim = TRUE), file, row.names = FALSE, quote = FALSE)

months <- c(0, 3, 6, 9, 12, 18, 24)
make <- function(set, mean, batches = 3, replicates = 2, sd = 1, shift = c(0, 1, -0.5), t = months, spread = 0, odd = 0) {
  d <- expand.grid(replicate = seq_len(replicates), months = t, batch = seq_len(batches))
  d$value <- signif(mean(d$months) + shift[d$batch] + rnorm(nrow(d)) * sd * (1 + spread * d$months), 6)
  if (odd) d$value[odd] <- d$value[odd] + 6 * sd
  data.frame(set = set, batch = d$batch, months = d$months, value = d$value)
}
data <- rbind(
  make("straight", function(t) 100 - 0.4 * t),
  make("outlier", function(t) 100 - 0.4 * t, odd = 17, replicates = 1),
  make("curved", function(t) 60 + 40 * exp(-0.1 * t), sd = 0.5),
  make("spreading", function(t) 100 - 0.2 * t, spread = 0.3),
  make("builds and breaks", function(t) 50 + ifelse(t < 9, t, 9 - 0.7 * (t - 9)), replicates = 1),
  make("sags and recovers", function(t) 0.02 * (t - 12)^2, batches = 1, replicates = 1, sd = 0.3, t = c(0, 1, 2, 3, 6, 9, 12, 18, 24)),
  make("plateau", function(t) 20 * (1 - exp(-0.5 * t)), replicates = 1, sd = 0.7, t = c(0, 1, 2, 3, 6, 9, 12, 18, 24)),
  make("one batch", function(t) 5 + 0.1 * t, batches = 1, replicates = 1, sd = 0.2))
write(data, "batches.csv")

points <- tests <- NULL
look <- function(set, model, fit, z, settings) {
  e <- residuals(fit); n <- length(e); t <- rstudent(fit); df <- fit$df.residual
  points <<- rbind(points, data.frame(set = set, model = model, i = seq_len(n) - 1, fitted = fitted(fit), residual = e,
    leverage = hatvalues(fit), internal = rstandard(fit), external = t,
    p = pmin(1, n * 2 * pt(-abs(t), df - 1)), row.names = NULL))
  g <- e^2 / mean(e^2)
  aux <- lm(g ~ z); q <- length(coef(aux)) - 1
  ess <- sum((fitted(aux) - mean(g))^2); tss <- sum((g - mean(g))^2)
  lack <- list(F = NA, p = NA, df1 = NA, df2 = NA)
  if (anyDuplicated(settings)) {
    y <- model.response(model.frame(fit)); X <- model.matrix(fit)
    a <- anova(lm(y ~ 0 + X), lm(y ~ factor(settings)))
    lack <- list(F = a$F[2], p = a$`Pr(>F)`[2], df1 = a$Df[2], df2 = a$Res.Df[2])
  }
  tests <<- rbind(tests, data.frame(set = set, model = model, sd = sigma(fit), df = df, koenker = n * ess / tss,
    koenker_p = pchisq(n * ess / tss, q, lower.tail = FALSE), original = ess / 2,
    original_p = pchisq(ess / 2, q, lower.tail = FALSE),
    lack_F = lack$F, lack_p = lack$p, lack_df1 = lack$df1, lack_df2 = lack$df2))
}
course <- NULL
for (s in unique(data$set)) {
  d <- data[data$set == s, ]
  d$b <- factor(d$batch); many <- nlevels(d$b) > 1
  settings <- paste(d$batch, d$months)
  separate <- if (many) lm(value ~ 0 + b + b:months, d) else lm(value ~ months, d)
  look(s, "separate", separate, d$months, settings)
  if (many) look(s, "common-slope", lm(value ~ 0 + b + months, d), d$months, settings)
  if (many) look(s, "pooled", lm(value ~ months, d), d$months, d$months)
  q <- if (many) lm(value ~ 0 + b + b:months + I(months^2), d) else lm(value ~ months + I(months^2), d)
  k <- summary(q)$coefficients["I(months^2)", ]
  # Broken lines with own intercepts.
  t <- sort(unique(d$months)); m <- length(t); inner <- t[2:(m - 1)]
  knots <- c(unlist(lapply(seq_len(length(inner) - 1), function(j) inner[j] + (inner[j + 1] - inner[j]) * (0:7) / 8)), inner[length(inner)])
  start <- if (many) "value ~ 0 + b" else "value ~ 1"
  try <- do.call(rbind, lapply(knots, function(c) {
    d$early <- pmin(d$months, c); d$late <- pmax(d$months, c)
    f <- function(x) lm(as.formula(paste(start, x)), d)
    both <- f("+ early + late"); w <- coef(both)[c("early", "late")]
    data.frame(knot = c, before = w[1], after = w[2], both = deviance(both), single = min(deviance(f("+ early")), deviance(f("+ late"))))
  }))
  best <- try[which.min(try$both), ]
  turns <- best$before * best$after < 0
  same <- sign(try$before) == sign(best$before) & try$before * try$after < 0
  straight <- min(ifelse(same, try$single, try$both))
  df <- nrow(d) - nlevels(d$b) - 3
  F <- if (turns) (straight - best$both) / (best$both / df) else 0
  course <- rbind(course, data.frame(set = s, t = k["t value"], p = k["Pr(>|t|)"], df = q$df.residual,
    direction = if (!turns) "" else if (best$before > 0) "rises-then-falls" else "falls-then-rises",
    at = best$knot, before = best$before, after = best$after, F = F, turn_p = pf(F, 1, df, lower.tail = FALSE), turn_df = df, row.names = NULL))
}
write(course, "course.csv")
norris <- read.csv("../norris.csv")
look("norris", "line", lm(y ~ x, norris), norris$x, norris$x)
longley <- read.csv("../linear/longley.csv")
look("longley", "all", lm(y ~ ., longley), cbind(longley$x2, longley$x6), seq_len(nrow(longley)))
write(points, "points.csv")
write(tests, "tests.csv")

# Runs: every order of the signs is written down and its runs counted.
ways <- function(signs) {
  n <- length(signs); plus <- sum(signs > 0)
  if (plus == 0 || plus == n) return(1)
  apply(combn(n, plus), 2, function(k) { s <- rep(-1, n); s[k] <- 1; 1 + sum(diff(s) != 0) })
}
sets <- list(c("+++---"), c("+-+-+-+"), c("++++++"), c("--+++++--"), c("+++---", "++----+"), c("-++-", "--+", "+--++-"))
runs <- do.call(rbind, lapply(sets, function(s) {
  signs <- lapply(strsplit(s, ""), function(x) ifelse(x == "+", 1, -1))
  seen <- sum(sapply(signs, function(x) 1 + sum(diff(x) != 0)))
  all <- Reduce(function(a, b) as.vector(outer(a, b, "+")), lapply(signs, ways))
  data.frame(signs = paste(s, collapse = " "), runs = seen, expected = mean(all), p = mean(all <= seen))
}))
write(runs, "runs.csv")
