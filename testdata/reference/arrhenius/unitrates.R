# Reference values for the regression of ln(unit rate) on 1/T, from base R:
#   Rscript unitrates.R
# writes unit-rates.csv (invented data, seeded) and unitrates.csv.

R <- 8.314462618
units <- NULL
out <- NULL
say <- function(case, quantity, value)
  out <<- rbind(out, data.frame(case = case, quantity = quantity, value = sprintf("%.12g", value)))

run <- function(case, seed, celsius, rh, per, batch.factor, rate, ea, sd, upper, at, at.rh,
                separate, humidity) {
  set.seed(seed)
  d <- expand.grid(unit = seq_len(per), condition = seq_along(celsius), batch = seq_along(batch.factor))
  inv <- 1 / (celsius + 273.15)
  mid <- mean(inv)
  d$u <- ((inv - mid) * 1000 / R)[d$condition]
  d$h <- if (humidity) (rh - mean(rh))[d$condition] else 0
  d$rate <- as.numeric(sprintf("%.6g", batch.factor[d$batch] *
    exp(log(rate) - ea * d$u - 0.01 * d$h + rnorm(nrow(d), 0, sd))))
  units <<- rbind(units, data.frame(case = case, batch = d$batch - 1, condition = d$condition - 1, rate = d$rate))
  d$b <- factor(d$batch); d$c <- factor(d$condition)
  right <- paste("I(-u)", if (humidity) "+ h")
  pooled <- lm(as.formula(paste("log(rate) ~", right)), d)
  own <- lm(as.formula(paste("log(rate) ~ 0 + b +", right)), d)
  p <- anova(pooled, own)[2, "Pr(>F)"]
  stopifnot((p < 0.25) == separate)
  fit <- if (separate) own else pooled
  free <- if (separate) lm(log(rate) ~ c + b, d) else lm(log(rate) ~ c, d)
  cf <- summary(fit)$coefficients
  say(case, "ea", cf["I(-u)", 1]); say(case, "ea_se", cf["I(-u)", 2])
  ci <- confint(fit, "I(-u)", 0.95)
  say(case, "ea_low", ci[1]); say(case, "ea_high", ci[2])
  if (humidity) { say(case, "B", cf["h", 1]); say(case, "B_se", cf["h", 2]) }
  say(case, "sd", summary(fit)$sigma); say(case, "df", fit$df.residual)
  a <- anova(fit, free)
  if (a[2, "Df"] > 0) { say(case, "F", a[2, "F"]); say(case, "P", a[2, "Pr(>F)"]) }
  for (k in seq_along(celsius)) {
    mean.log <- mean(log(d$rate[d$condition == k]))
    say(case, paste0("rate", k - 1), exp(mean.log))
    say(case, paste0("se", k - 1), exp(mean.log) * summary(free)$sigma / sqrt(sum(d$condition == k)))
  }
  for (i in seq_along(at)) {
    new <- data.frame(u = (1 / (at[i] + 273.15) - mid) * 1000 / R,
                      h = if (humidity) at.rh[i] - mean(rh) else 0,
                      b = factor(seq_along(batch.factor)))
    q <- predict(fit, new, se.fit = TRUE)
    t <- upper / exp(q$fit)
    bound <- upper / exp(q$fit + qt(0.95, fit$df.residual) * q$se.fit)
    j <- which.min(bound)
    say(case, paste0("at", at[i], "_estimate"), t[j])
    say(case, paste0("at", at[i], "_bound"), bound[j])
    say(case, paste0("at", at[i], "_batch"), if (separate) j - 1 else -1)
  }
}

run("alike", 31, c(25, 30, 40), c(NA, NA, NA), 5, c(1, 1), 0.08, 45, 0.15, 5, c(25, 5), NA, FALSE, FALSE)
run("apart", 32, c(25, 30, 40, 45), NA, 4, c(1, 1.5, 0.8), 0.08, 45, 0.15, 5, c(25, 5), NA, TRUE, FALSE)
run("damp", 33, c(25, 30, 40, 40), c(60, 35, 75, 20), 5, c(1, 1), 0.08, 45, 0.1, 5, c(25, 20), c(40, 60), FALSE, TRUE)

write.csv(units, "unit-rates.csv", row.names = FALSE, quote = FALSE)
write.csv(out, "unitrates.csv", row.names = FALSE, quote = FALSE)
