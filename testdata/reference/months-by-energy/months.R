# Months of shelf life lost at 25 °C where there are results at 40, 50 and 60 °C only:
#   Rscript months.R
# The difference of rates of two packs at each temperature by lm (a start for each batch
# and pack, a rate for each batch plus the pack's), the activation energy of the jar by
# nls over its temperatures with its profile-likelihood interval; then arithmetic. A
# path from the tube's mean fitted start, at the rates brought to 25 °C, meets 90; what
# is lost is the difference of the two, either no longer than 92 months. The least and
# the most are over the 95 % interval of the difference and over that of Ea, at each end
# of the first by optimize over the second. Data from a seed,
# one with which rates add up at each temperature.
options(digits = 15)
set.seed(25)
R <- 8.314462618e-3
write <- function(x, file) write.csv(format(x, digits = 15, trim = TRUE), file, row.names = FALSE, quote = FALSE)
d <- expand.grid(unit = 1:2, months = 0:6, celsius = c(40, 50, 60), pack = c("jar", "tube"), batch = 1:3, stringsAsFactors = FALSE)
d$celsius[d$months == 0] <- 0
d <- unique(d)
d <- d[!(d$celsius == 60 & d$months > 3) & !(d$batch == 3 & d$celsius == 40 & d$months == 6), ]
k <- c(0.42, 0.45, 0.40)[d$batch] + 0.12 * (d$pack == "tube")
k <- ifelse(d$celsius == 0, 0, k * exp(-75 / R * (1 / (d$celsius + 273.15) - 1 / 313.15)))
start <- rnorm(6) * 0.3
d$value <- round(100 + start[d$batch + 3 * (d$pack == "tube")] - k * d$months + rnorm(nrow(d)) * 0.25, 4)
write(d[, c("batch", "pack", "celsius", "months", "unit", "value")], "data.csv")
limit <- 90; horizon <- 92; d$batch <- factor(d$batch); d$pack <- factor(d$pack)

jar <- d[d$pack == "jar", ]
inv <- mean(1 / (c(40, 50, 60) + 273.15))
jar$u <- ifelse(jar$celsius == 0, 0, (1 / (jar$celsius + 273.15) - inv) / R)
sse <- function(ea) sum(lm(value ~ 0 + batch + I(exp(-ea * u) * months), jar)$residuals^2)
fit <- nls(value ~ a[batch] - exp(lambda - ea * u) * months, jar, start = list(a = rep(100, 3), lambda = 0, ea = 75), control = nls.control(tol = 1e-9, nDcentral = TRUE))
ea <- coef(fit)[["ea"]]; nu <- df.residual(fit)
stopifnot(abs(sse(ea) - deviance(fit)) < 1e-8)
level <- deviance(fit) * (1 + qt(0.975, nu)^2 / nu)
ends <- c(uniroot(function(e) sse(e) - level, c(ea - 30, ea), tol = 1e-12)$root, uniroot(function(e) sse(e) - level, c(ea, ea + 30), tol = 1e-12)$root)

out <- NULL
for (celsius in c(40, 50, 60)) {
  x <- d[d$celsius %in% c(0, celsius), ]
  x$m <- x$months; x$tube <- (x$pack == "tube") * x$months
  additive <- lm(value ~ 0 + batch:pack + batch:m + tube, x)
  own <- lm(value ~ 0 + batch:pack + batch:pack:m, x)
  p <- anova(additive, own)[2, "Pr(>F)"]
  cat(celsius, p, "\n"); stopifnot(p > 0.25)                                        # the residual is the error
  b <- coef(additive); se <- sqrt(diag(vcov(additive)))[["tube"]]; q <- qt(0.975, df.residual(additive))
  against <- mean(b[paste0("batch", 1:3, ":m")]); difference <- b[["tube"]]
  from <- mean(b[paste0("batch", 1:3, ":packtube")])
  slower <- function(ea) exp(-ea / R * (1 / 298.15 - 1 / (celsius + 273.15)))
  life <- function(rate) min((limit - from) / rate, horizon)
  lost <- function(difference, ea) life(slower(ea) * against) - life(slower(ea) * (against + difference))
  # Over Ea it rises, to where the slower's life is the horizon, and falls.
  most <- function(difference) max(optimize(function(e) lost(difference, e), ends, maximum = TRUE, tol = 1e-12)$objective, lost(difference, ends[1]), lost(difference, ends[2]))
  least <- function(difference) min(lost(difference, ends[1]), lost(difference, ends[2]))
  low <- difference - q * se; high <- difference + q * se     # both rates fall, so that the lower is the harmful one
  stopifnot(against + high < 0)
  if (high < 0) out <- rbind(out, data.frame(celsius, against, difference, low, high, from, life = (limit - from) / (slower(ea) * (against + difference)),
    against_life = (limit - from) / (slower(ea) * against), lost = lost(difference, ea), lost_low = least(high), lost_high = most(low), ea, ea_low = ends[1], ea_high = ends[2]))
}
write(out, "months.csv")
