# Reference for the generalized extreme studentized deviate test, written out
# from its definition with mean, sd and qt. Data from a seed. Run in this
# folder: Rscript esd.R
options(digits = 15)
set.seed(20260301)
write <- function(x, file) write.csv(x, file, row.names = FALSE, quote = FALSE)
rosner <- read.csv("../rosner.csv")$y
sets <- list(
  rosner = list(y = rosner, most = 10, alpha = 0.05),
  leaker = list(y = round(c(rnorm(11, 0.11, 0.008), 0.31), 4), most = 4, alpha = 0.05),
  masked = list(y = round(c(rnorm(16, 2, 0.1), 3.1, 3.15, 3.2), 4), most = 5, alpha = 0.05),
  below  = list(y = round(c(rnorm(24, 100, 0.5), 96.2), 3), most = 3, alpha = 0.01),
  none   = list(y = round(rnorm(40, -5, 2), 5), most = 8, alpha = 0.05),
  far    = list(y = 1e6 + round(c(rnorm(14), 7), 3), most = 2, alpha = 0.10),
  three  = list(y = c(1, 1.1, 2), most = 1, alpha = 0.2))
data <- answers <- NULL
for (s in names(sets)) {
  y <- sets[[s]]$y; alpha <- sets[[s]]$alpha; most <- sets[[s]]$most; n <- length(y)
  if (s != "rosner") data <- rbind(data, data.frame(set = s, y = y))
  left <- seq_len(n)
  rows <- NULL
  for (i in seq_len(most)) {
    z <- y[left]
    d <- abs(z - mean(z)) / sd(z)
    k <- which.max(d)
    p <- 1 - alpha / (2 * (n - i + 1)); t <- qt(p, n - i - 1)
    lambda <- (n - i) * t / sqrt((n - i - 1 + t^2) * (n - i + 1))
    rows <- rbind(rows, data.frame(set = s, alpha = alpha, most = most, step = i, index = left[k] - 1, R = d[k], lambda = lambda))
    left <- left[-k]
  }
  over <- which(rows$R > rows$lambda)
  rows$outliers <- if (length(over)) max(over) else 0
  answers <- rbind(answers, rows)
}
write(data, "sets.csv")
write(format(answers, digits = 15, trim = TRUE), "answers.csv")
