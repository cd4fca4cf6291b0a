# Reference for rates compared between packs and orientations within batches, and
# between batches by what they are made of: lm and anova. A start for each batch
# and pack (can upright and can inverted begin alike), a rate for each arm or the
# sum of a batch's and a combination's. Data from a seed; arms and times missing.
# Run in this folder: Rscript comparison.R. It takes 18 minutes, all but seconds of them
# for families.csv: qmvt looks for each quantile at abseps 1e-7, which its four digits need.
options(digits = 15)
set.seed(20260401)
write <- function(x, file) write.csv(format(x, digits = 15, trim = TRUE), file, row.names = FALSE, quote = FALSE)
combos <- c("jar", "tube", "can upright", "can inverted"); pack <- c(1, 2, 3, 3)
times <- c(0, 3, 6, 9, 12, 18)
make <- function(set, batches, own, sd) {
  d <- expand.grid(replicate = 1:2, months = times, combo = 1:4, batch = seq_len(batches))
  gamma <- -0.30 - 0.04 * (seq_len(batches) %% 2) - 0.02 * (seq_len(batches) > 2)
  delta <- c(0, -0.02, -0.15, -0.40)
  alone <- matrix(rnorm(batches * 4) * own, batches)
  d <- d[!(d$months == 0 & d$combo == 4), ]                  # the can's start is measured once
  d <- d[!(d$batch == 2 & d$combo == 2), ]                   # batch 2 has no tube
  d <- d[!(d$batch == 1 & d$months == 18), ]                 # batch 1 is younger
  d$start <- d$batch * 10 + pack[d$combo]
  start <- rnorm(200) * 0.5
  d$z <- round(100 + start[d$start] + (gamma[d$batch] + delta[d$combo] + alone[cbind(d$batch, d$combo)]) * d$months + rnorm(nrow(d)) * sd, 4)
  data.frame(set = set, d[, c("batch", "combo", "start", "months", "z")])
}
data <- rbind(make("alike", 4, 0, 0.5), make("varies", 5, 0.06, 0.4))
write(data, "data.csv")
fits <- between <- NULL
for (s in unique(data$set)) {
  d <- data[data$set == s, ]; n <- max(d$batch)
  S <- outer(d$start, unique(d$start), "==") * 1
  B <- outer(d$batch, 1:n, "==") * d$months
  C <- outer(d$combo, 2:4, "==") * d$months; colnames(C) <- combos[2:4]; colnames(B) <- paste0("b", 1:n)
  add <- lm(d$z ~ 0 + S + B + C)
  arm <- interaction(d$batch, d$combo, drop = TRUE)
  A <- outer(as.integer(arm), seq_along(levels(arm)), "==") * d$months
  own <- lm(d$z ~ 0 + S + A)
  a <- anova(add, own)
  co <- summary(add)$coefficients; v <- vcov(add) / summary(add)$sigma^2
  p <- a[2, "Pr(>F)"]
  ms <- if (p < 0.25) a[2, "Sum of Sq"] / a[2, "Df"] else summary(add)$sigma^2
  df <- if (p < 0.25) a[2, "Df"] else add$df.residual
  g <- coef(add)[paste0("B", colnames(B))]
  for (k in 2:4) {
    name <- paste0("C", combos[k])
    se <- sqrt(v[name, name] * ms)
    fits <- rbind(fits, data.frame(set = s, what = combos[k], value = co[name, 1], se = se, df = df, p = 2 * pt(-abs(co[name, 1] / se), df),
      additivityF = a[2, "F"], additivityP = p))
  }
  w <- v["Ccan inverted", "Ccan inverted"] + v["Ccan upright", "Ccan upright"] - 2 * v["Ccan inverted", "Ccan upright"]
  e <- co["Ccan inverted", 1] - co["Ccan upright", 1]
  fits <- rbind(fits, data.frame(set = s, what = "can inverted - can upright", value = e, se = sqrt(w * ms), df = df,
    p = 2 * pt(-abs(e / sqrt(w * ms)), df), additivityF = a[2, "F"], additivityP = p))
  # Odd batches have clay, even ones none; batches from the third on are pilot ones.
  q <- data.frame(g = unname(g), clay = ifelse(seq_len(n) %% 2 == 1, "clay", "none"), scale = ifelse(seq_len(n) > 2, "pilot", "bench"))
  q$clay <- relevel(factor(q$clay), "none"); q$scale <- factor(q$scale)
  m <- summary(lm(g ~ clay + scale, q))
  for (r in 2:3) between <- rbind(between, data.frame(set = s, what = rownames(m$coefficients)[r], value = m$coefficients[r, 1], se = m$coefficients[r, 2],
    df = m$df[2], p = m$coefficients[r, 4]))
}
write(fits, "within.csv")
write(between, "between.csv")

# Simultaneous inference (mvtnorm): packs against the jar, and all pairs of
# combinations, each with its own error and degrees of freedom as above. This takes
# many minutes.
library(mvtnorm)
families <- NULL
K <- list(dunnett = rbind("tube / jar" = c(1, 0, 0), "can upright / jar" = c(0, 1, 0)),
          tukey = rbind("tube / jar" = c(1, 0, 0), "can upright / jar" = c(0, 1, 0), "can upright / tube" = c(-1, 1, 0),
                        "can inverted / jar" = c(0, 0, 1), "can inverted / tube" = c(-1, 0, 1), "can inverted / can upright" = c(0, -1, 1)))
exact <- GenzBretz(maxpts = 1e7, abseps = 1e-7, releps = 0)
for (s in unique(data$set)) {
  d <- data[data$set == s, ]; n <- max(d$batch)
  S <- outer(d$start, unique(d$start), "==") * 1
  B <- outer(d$batch, 1:n, "==") * d$months
  C <- outer(d$combo, 2:4, "==") * d$months; colnames(C) <- combos[2:4]
  add <- lm(d$z ~ 0 + S + B + C)
  w <- fits[fits$set == s, ][1, ]; name <- paste0("C", combos[2:4])
  scale <- if (w$additivityP < 0.25) (w$se / sqrt((vcov(add) / summary(add)$sigma^2)["Ctube", "Ctube"]))^2 else summary(add)$sigma^2
  V <- (vcov(add) / summary(add)$sigma^2)[name, name] * scale; b <- coef(add)[name]
  for (k in names(K)) {
    L <- K[[k]]; W <- L %*% V %*% t(L); se <- sqrt(diag(W)); r <- cov2cor(W); e <- drop(L %*% b)
    set.seed(1); q <- qmvt(0.95, tail = "both.tails", df = w$df, corr = r, algorithm = exact)$quantile
    for (i in seq_along(e)) {
      p <- 1 - pmvt(rep(-abs(e[i] / se[i]), length(e)), rep(abs(e[i] / se[i]), length(e)), df = w$df, corr = r, algorithm = exact)
      families <- rbind(families, data.frame(set = s, family = k, what = rownames(L)[i], value = e[i], low = e[i] - q * se[i], high = e[i] + q * se[i], p = c(p)))
    }
  }
}
write(families, "families.csv")
