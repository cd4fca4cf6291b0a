# Reference for results out of trend: predict(lm, interval = "prediction") without
# the suspect, with each batch's own line and with what the batches share under
# ICH Q1E's tests, and the prediction interval of one more batch. Data from a seed. Run in this
# folder: Rscript outoftrend.R
options(digits = 15)
set.seed(20260306)
write <- function(x, file) write.csv(format(x, digits = 15, trim = TRUE), file, row.names = FALSE, quote = FALSE)
months <- c(0, 3, 6, 9, 12, 18, 24)
make <- function(set, batches, slope, shift, off = 0, batch = batches, sd = 0.8) {
  d <- expand.grid(months = months, batch = seq_len(batches))
  d$value <- signif(100 + shift[d$batch] + slope[d$batch] * d$months + rnorm(nrow(d)) * sd, 6)
  k <- which(d$batch == batch & d$months == 24)
  d$value[k] <- d$value[k] + off
  d$suspect <- seq_len(nrow(d)) == k
  data.frame(set = set, d)
}
data <- rbind(
  make("alone", 1, -0.4, 0),
  make("alone far", 1, -0.4, 0, off = -6),
  make("nearly alike", 3, c(-0.4, -0.4, -0.4), c(0, 0, 0), off = 2.5),
  make("alike", 3, sd = 0.5, c(-0.4, -0.4, -0.4), c(0, 0, 0), off = -3),
  make("parallel", 3, c(-0.3, -0.3, -0.3), c(0, 4, -4), batch = 2),
  make("separate", 3, c(-0.1, -0.5, -0.9), c(0, 1, 0), off = 4, batch = 1))
write(data, "batches.csv")
answers <- NULL
for (s in unique(data$set)) {
  d <- data[data$set == s, ]; d$b <- factor(d$batch)
  rest <- d[!d$suspect, ]; new <- d[d$suspect, ]
  many <- nlevels(d$b) > 1
  own <- if (many) lm(value ~ b * months, rest) else lm(value ~ months, rest)
  judge <- function(model, decision, fit) {
    p95 <- predict(fit, new, interval = "prediction", level = 0.95)
    p99 <- predict(fit, new, interval = "prediction", level = 0.99)
    se <- sqrt(predict(fit, new, se.fit = TRUE)$se.fit^2 + sigma(fit)^2)
    t <- unname((new$value - p95[1]) / se); df <- df.residual(fit)
    answers <<- rbind(answers, data.frame(set = s, model = model, decision = decision, expected = p95[1], se = se, df = df, t = t,
      p = 2 * pt(-abs(t), df), lower95 = p95[2], upper95 = p95[3], lower99 = p99[2], upper99 = p99[3]))
  }
  judge("own", "separate", own)
  if (many) {
    com <- lm(value ~ b + months, rest); pool <- lm(value ~ months, rest)
    ms <- deviance(own) / df.residual(own); k <- nlevels(d$b) - 1; df <- df.residual(own)
    ps <- pf((deviance(com) - deviance(own)) / k / ms, k, df, lower.tail = FALSE)
    pi <- pf((deviance(pool) - deviance(com)) / k / ms, k, df, lower.tail = FALSE)
    if (ps < 0.25) judge("shared", "separate", own)
    else if (pi < 0.25) judge("shared", "common-slope", com)
    else judge("shared", "pooled", pool)
  }
}
write(answers, "answers.csv")
earlier <- answers <- NULL
for (n in c(2, 3, 6, 12)) {
  v <- signif(rnorm(n, 92, 1), 6); y <- 89.4
  earlier <- rbind(earlier, data.frame(n = n, value = v))
  fit <- lm(v ~ 1); new <- data.frame(row.names = 1)
  p95 <- predict(fit, new, interval = "prediction", level = 0.95); p99 <- predict(fit, new, interval = "prediction", level = 0.99)
  t <- (y - mean(v)) / (sd(v) * sqrt(1 + 1 / n))
  answers <- rbind(answers, data.frame(n = n, value = y, t = t, p = 2 * pt(-abs(t), n - 1),
    lower95 = p95[1, 2], upper95 = p95[1, 3], lower99 = p99[1, 2], upper99 = p99[1, 3]))
}
write(earlier, "earlier.csv")
write(answers, "earlier-answers.csv")
