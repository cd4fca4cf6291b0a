# Ingredients alone and in pairs, stored hot: the pair's excess, ln of its rate less that
# of each alone plus that of neither, by base R's lm and the delta method:
#   Rscript pairs.R
# First order: ln of the value in time, a start for each batch and pack, a rate for each
# batch plus the pack's; rates in the mean of the packs. Without a batch that has neither
# the pair stands against the faster of the two alone. Data from a seed.
options(digits = 15)
set.seed(20260405)
write <- function(x, file) write.csv(format(x, digits = 15, trim = TRUE), file, row.names = FALSE, quote = FALSE)
batches <- data.frame(batch = 1:8, peroxide = c(0, 0, 1, 0, 0, 1, 1, 0), fragrance = c(0, 0, 0, 1, 0, 1, 0, 1), iron = c(0, 0, 0, 0, 1, 0, 1, 1))
write(batches, "batches.csv")
d <- expand.grid(unit = 1:2, weeks = 0:4, pack = c("jar", "tube"), batch = 1:8, stringsAsFactors = FALSE)
d <- d[!(d$batch == 4 & d$weeks == 4), ]
k <- -c(0.02, 0.021, 0.04, 0.03, 0.05, 0.061, 0.40, 0.06)
d$value <- round(exp(log(100) + rnorm(16)[d$batch + 8 * (d$pack == "tube")] * 0.01 + (k[d$batch] - 0.005 * (d$pack == "tube")) * d$weeks + rnorm(nrow(d)) * 0.004), 4)
write(d[, c("batch", "pack", "weeks", "unit", "value")], "data.csv")
out <- NULL
for (set in c("all", "no-neither")) {
  x <- if (set == "all") d else d[d$batch > 2, ]
  x$months <- x$weeks * 7 / (365.25 / 12)                     # a week in months, of 365.25/12 days
  x$b <- factor(x$batch); x$start <- interaction(x$batch, x$pack, drop = TRUE); x$tube <- (x$pack == "tube") * x$months
  fit <- lm(log(value) ~ 0 + start + b:months + tube, x)
  own <- lm(log(value) ~ 0 + start + start:months, x)
  p <- anova(fit, own)[2, "Pr(>F)"]; cat(set, p, "\n"); stopifnot(p > 0.25)   # the residual is the error
  b <- coef(fit); V <- vcov(fit); slope <- function(i) paste0("b", i, ":months")
  rate <- function(i) mean(b[slope(i)]) + b[["tube"]] / 2
  with <- function(...) { want <- names(batches)[-1] %in% c(...); batches$batch[apply(batches[, -1] == matrix(want, 8, 3, byrow = TRUE), 1, all)] }
  for (pair in list(c("fragrance", "iron"), c("fragrance", "peroxide"), c("iron", "peroxide"))) {
    both <- with(pair); one <- with(pair[1]); other <- with(pair[2]); neither <- with(); neither <- neither[neither %in% x$batch]
    ln <- function(i) log(abs(rate(i)))
    weights <- if (length(neither)) list(list(both, 1), list(one, -1), list(other, -1), list(neither, 1))
      else list(list(both, 1), list(if (ln(one) >= ln(other)) one else other, -1))
    excess <- sum(sapply(weights, function(w) w[[2]] * ln(w[[1]])))
    # The gradient, the pack's half share of each rate too.
    g <- setNames(numeric(length(b)), names(b))
    for (w in weights) {
      g[slope(w[[1]])] <- g[slope(w[[1]])] + w[[2]] / rate(w[[1]]) / length(w[[1]])
      g["tube"] <- g["tube"] + w[[2]] / rate(w[[1]]) / 2
    }
    se <- sqrt(drop(g %*% V %*% g)); half <- qt(0.975, fit$df.residual) * se
    out <- rbind(out, data.frame(set, one = pair[1], other = pair[2], pair = ln(both), first = ln(one), second = ln(other), excess, se, df = fit$df.residual, low = excess - half, high = excess + half))
  }
}
write(out, "pairs.csv")
