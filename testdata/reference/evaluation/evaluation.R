# What the whole program should answer, by general statistics software.
#
# 1. answers.csv: the demonstration study of testdata/demo, read from its own
#    files: viscosity in every pack and the assay in the tube at 25C60, by lm,
#    anova and uniroot; the assay in the tube over all temperatures by nls, with
#    profiles made with lm.
# 2. hand.csv: one batch of five results, 100.2, 98.4, 96.8, 95.4 and 94.2 at
#    0, 3, 6, 9 and 12 months, under the models and bases.
#
# usage, in this folder: Rscript evaluation.R
month <- 30.4375
R <- 8.314462618
start <- as.Date("2025-02-03")
lab <- read.csv("../../demo/results-lab.csv", colClasses = "character")
rheometer <- read.csv2("../../demo/rheometer.csv", colClasses = "character", fileEncoding = "UTF-8-BOM")
months <- function(pulled) as.numeric(as.Date(pulled) - start) / month

out <- data.frame(case = character(), name = character(), value = numeric())
say <- function(case, name, value) {
  out[nrow(out) + 1, ] <<- list(case, name, value)
}

# --- 25C60: lm, anova, uniroot -------------------------------------------------
trend <- function(case, d, lower, upper) {
  d$batch <- factor(d$batch)
  d$y <- log(d$value)
  separate <- lm(y ~ 0 + batch + batch:t, d)
  common <- lm(y ~ 0 + batch + t, d)
  pooled <- lm(y ~ t, d)
  s2 <- summary(separate)$sigma^2
  f <- function(small, large) {
    df <- small$df.residual - large$df.residual
    pf((deviance(small) - deviance(large)) / df / s2, df, separate$df.residual, lower.tail = FALSE)
  }
  slopes <- f(common, separate)
  stopifnot(all.equal(slopes, anova(common, separate)$`Pr(>F)`[2]))
  intercepts <- f(pooled, common)
  if (slopes < 0.25) {
    model <- separate
    intercepts <- NA
    decision <- 0
  } else if (intercepts < 0.25) {
    model <- common
    decision <- 1
  } else {
    model <- pooled
    decision <- 2
  }
  level <- if (is.finite(upper)) 0.95 else 0.90 # of the interval: two-sided, or both sides of a one-sided 95 %
  say(case, "slopes_p", slopes)
  say(case, "intercepts_p", intercepts)
  say(case, "decision", decision)
  say(case, "residual_sd", summary(model)$sigma)
  say(case, "df", model$df.residual)
  for (b in levels(d$batch)) {
    at <- function(t, side) {
      p <- predict(model, data.frame(batch = factor(b, levels(d$batch)), t = t), interval = "confidence", level = level)
      p[side]
    }
    crossing <- function(side, limit) {
      g <- function(t) at(t, side) - log(limit)
      if (sign(g(0)) == sign(g(5000))) return(Inf)
      uniroot(g, c(0, 5000), tol = 1e-11)$root
    }
    say(case, paste("intercept", b), at(0, 1))
    say(case, paste("slope", b), at(1, 1) - at(0, 1))
    if (decision == 0) say(case, paste("slope_se", b), summary(model)$coefficients[paste0("batch", b, ":t"), 2])
    if (decision > 0) say(case, paste("slope_se", b), summary(model)$coefficients["t", 2])
    say(case, paste("estimate_months", b), crossing(1, lower))
    say(case, paste("shelf_life_months", b), min(crossing(2, lower), if (is.finite(upper)) crossing(3, upper) else Inf))
  }
}
samples <- function(table, attribute, pack, orientation) {
  d <- table[table$pack == pack & table$attribute == attribute & table$value != "", ]
  d <- d[d$time == "0" | d$orientation == orientation, ]
  d$value <- as.numeric(sub(",", ".", d$value))
  d$t <- ifelse(d$time == "0", 0, months(d$pulled))
  aggregate(value ~ batch + condition + t + unit, d, mean)
}
long <- transform(rheometer, value = viscosity, attribute = "viscosity")
for (arm in list(c("jar", "upright"), c("tube", "upright"), c("can", "upright"), c("can", "inverted"))) {
  d <- samples(long, "viscosity", arm[1], arm[2])
  trend(paste("viscosity", arm[1], arm[2]), d[d$condition %in% c("", "25C60"), ], 18000, 42000)
}
d <- samples(lab, "assay", "tube", "upright")
trend("assay tube upright", d[d$condition %in% c("", "25C60"), ], 90, Inf)

# --- All temperatures: nls ------------------------------------------------------
celsius <- c("5C" = 5, "25C60" = 25, "30C65" = 30, "40C75" = 40, "45C" = 45)
d$kelvin <- celsius[d$condition] + 273.15
d$kelvin[d$t == 0] <- 298.15 # time zero has none; any will do, since it is multiplied by 0
d$x <- 1 / d$kelvin - 1 / 298.15
d$y <- log(d$value)
for (b in c("B1", "B2", "B3")) d[[b]] <- as.numeric(d$batch == b)
fit <- nls(y ~ a1 * B1 + a2 * B2 + a3 * B3 - exp(l - e * 1e5 / R * x) * t, d,
  start = list(a1 = 4.6, a2 = 4.6, a3 = 4.6, l = log(0.0014), e = 1), control = nls.control(tol = 1e-8, maxiter = 500, minFactor = 1e-12))
say("arrhenius", "kj_per_mol", 100 * coef(fit)[["e"]])
say("arrhenius", "residual_sd", summary(fit)$sigma)
say("arrhenius", "df", df.residual(fit))
k25 <- exp(coef(fit)[["l"]])
say("arrhenius", "estimate_months", min((coef(fit)[1:3] - log(90)) / k25))
free <- lm(y ~ 0 + B1 + B2 + B3 + t:factor(ifelse(t == 0, "25C60", condition)), d)
for (c in names(celsius)) {
  i <- grep(paste0(")", c, "$"), names(coef(free)))
  say("arrhenius", paste("rate", c), coef(free)[[i]])
  say("arrhenius", paste("rate_se", c), summary(free)$coefficients[i, 2])
}
df <- df.residual(fit) - df.residual(free)
say("arrhenius", "linearity_p", pf((deviance(fit) - deviance(free)) / df / summary(free)$sigma^2, df, df.residual(free), lower.tail = FALSE))
# Profiles: with the energy held, the rest is linear.
held <- function(e) transform(d, z = -exp(-e * 1000 / R * x) * t)
sse <- function(e) deviance(lm(y ~ 0 + B1 + B2 + B3 + z, held(e)))
least <- deviance(fit)
most <- least * (1 + qt(0.975, df.residual(fit))^2 / df.residual(fit))
best <- 100 * coef(fit)[["e"]]
say("arrhenius", "low", uniroot(function(e) sse(e) - most, c(best - 40, best), tol = 1e-10)$root)
say("arrhenius", "high", uniroot(function(e) sse(e) - most, c(best, best + 40), tol = 1e-10)$root)
# The crossing time tau of batch b at 25 °C: a_b = ln 90 + k tau. The bound is
# the least tau that the data do not contradict, of any batch.
most <- least * (1 + qt(0.95, df.residual(fit))^2 / df.residual(fit))
bound <- function(i) {
  others <- setdiff(c("B1", "B2", "B3"), paste0("B", i))
  sse <- function(e, tau) {
    h <- held(e)
    h$own <- h[[paste0("B", i)]]
    h$z <- h$z + h$own * tau
    h$v <- h$y - h$own * log(90)
    deviance(lm(reformulate(c("0", others, "z"), "v"), h))
  }
  profile <- function(tau) optimize(sse, c(best - 40, best + 40), tau = tau, tol = 1e-10)$objective
  estimate <- (coef(fit)[[i]] - log(90)) / k25
  uniroot(function(tau) profile(tau) - most, c(estimate / 2, estimate), tol = 1e-10)$root
}
say("arrhenius", "shelf_life_months", min(sapply(1:3, bound)))
out$value <- sprintf("%.12g", out$value)
write.csv(out, "answers.csv", row.names = FALSE, quote = FALSE)

# --- One batch by hand -----------------------------------------------------------
y <- c(100.2, 98.4, 96.8, 95.4, 94.2)
t <- c(0, 3, 6, 9, 12)
hand <- data.frame(case = character(), estimate = numeric(), months = numeric())
q <- qt(0.95, 3)
cross <- function(case, mean, lower) {
  root <- function(g) uniroot(g, c(1e-9, 500), tol = 1e-12)$root
  hand[nrow(hand) + 1, ] <<- list(case, root(mean), root(lower))
}
line <- function(x, v) {
  m <- lm(v ~ x)
  list(mean = function(x) predict(m, data.frame(x = x))[[1]],
    se = function(x) predict(m, data.frame(x = x), se.fit = TRUE)$se.fit[[1]], slope = coef(m)[[2]], slope_se = summary(m)$coefficients[2, 2],
    vcov = vcov(m), coef = coef(m))
}
z <- line(t, y)
cross("zero-order value", function(x) z$mean(x) - 90, function(x) z$mean(x) - q * z$se(x) - 90)
cross("zero-order change-from-initial", function(x) z$slope * x + 10, function(x) (z$slope - q * z$slope_se) * x + 10)
ratio <- function(x, share) c(1 - share, x) # y(x) − share · y(0)
cross("zero-order percent-of-initial", function(x) sum(ratio(x, 0.9) * z$coef),
  function(x) sum(ratio(x, 0.9) * z$coef) - q * sqrt(drop(ratio(x, 0.9) %*% z$vcov %*% ratio(x, 0.9))))
f <- line(t, log(y))
cross("first-order value", function(x) f$mean(x) - log(90), function(x) f$mean(x) - q * f$se(x) - log(90))
cross("first-order percent-of-initial", function(x) f$slope * x - log(0.9), function(x) (f$slope - q * f$slope_se) * x - log(0.9))
s <- line(t, 1 / y)
cross("second-order value", function(x) s$mean(x) - 1 / 90, function(x) s$mean(x) + q * s$se(x) - 1 / 90)
r <- line(sqrt(t), y)
cross("square-root-time value", function(x) r$mean(sqrt(x)) - 90, function(x) r$mean(sqrt(x)) - q * r$se(sqrt(x)) - 90)
hand$estimate <- sprintf("%.12g", hand$estimate)
hand$months <- sprintf("%.12g", hand$months)
write.csv(hand, "hand.csv", row.names = FALSE, quote = FALSE)
