# Reference for the comparison of models where units are measured and put back:
# a unit belongs to the condition it is stored at, and its reading at time zero
# counts there and nowhere else. The study is our own, made from a seed: one
# batch, four units at 25 °C and four at 40 °C. Run in this folder:
# Rscript returned.R
options(digits = 15)
set.seed(20260301)
times <- list("25C60" = c(0, 3, 6, 9, 12), "40C75" = c(0, 1, 3, 6))
fall <- c("25C60" = 0.020, "40C75" = 0.090)
d <- do.call(rbind, lapply(names(times), function(c) do.call(rbind, lapply(1:4, function(u) {
  t <- times[[c]]
  start <- 40 + rnorm(1, 0, 3)
  data.frame(batch = "B1", condition = c, time = t, attribute = "firmness", unit = paste0(c, "-", u),
             value = round(start * exp(-fall[[c]] * t) + rnorm(length(t), 0, 0.4), 2))
}))))
write.csv(d, "returned.csv", row.names = FALSE, quote = FALSE)

# AICc of one line at each condition, k = 2b + 1 = 3, the variance SSE/N, with
# the Jacobian of the scale; conditions add up.
models <- list("zero-order" = list(identity, identity, function(y) 0 * y),
               "first-order" = list(log, identity, function(y) -log(y)),
               "second-order" = list(function(y) 1 / y, identity, function(y) -2 * log(y)),
               "square-root-time" = list(identity, sqrt, function(y) 0 * y))
aicc <- function(m, s) {
  n <- nrow(s)
  sse <- sum(resid(lm(m[[1]](s$value) ~ m[[2]](s$time)))^2)
  n * log(2 * pi * sse / n) + n - 2 * sum(m[[3]](s$value)) + 6 + 24 / (n - 4)
}
answers <- data.frame(model = names(models),
                      aicc = sapply(models, function(m) sum(sapply(split(d, d$condition), aicc, m = m))))
write.csv(answers, "returned-answers.csv", row.names = FALSE, quote = FALSE)
