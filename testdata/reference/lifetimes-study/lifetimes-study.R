# A whole study of grades and a leak check, and what its units say:
#   Rscript lifetimes-study.R
# makes results.csv from a seed, reads it again as it stands, and writes
# lifetimes-study.csv. Estimates, errors and likelihoods are survreg's (type
# interval2), quantiles predict.survreg's, the nonparametric estimate isoreg's or survfit's,
# binomial bounds binom.test's, kappa vcd's. The profiles are made by hand: the
# log-likelihood by pnorm or by the extreme value's own, made greatest over the
# rest by nlminb, and uniroot on the level.
library(survival)
suppressMessages(library(vcd))
R <- 8.314462618
set.seed(47)

# --- The study ------------------------------------------------------------------
start <- as.Date("2024-03-04")
celsius <- c("25C60" = 25, "30C65" = 30, "40C75" = 40)
pulls <- list("25C60" = c(3, 6, 9, 12, 18), "30C65" = c(3, 6, 9, 12), "40C75" = c(1, 2, 3, 6))
ratio <- function(celsius, ea) exp(1000 * ea / R * (1 / (celsius + 273.15) - 1 / 313.15))
names.of <- c("none", "slight", "moderate", "marked", "severe")
day <- function(months, late = 0) format(seq(start, by = paste(months, "months"), length.out = 2)[2] + late)
rows <- NULL
row <- function(condition, time, pulled, attribute, batch, unit, replicate, value, analyst)
  rows <<- rbind(rows, data.frame(batch, condition, time, pulled, attribute, unit, replicate, value, analyst))
other <- function(g) pmin(pmax(g + sample(c(-1, 0, 0, 0, 0, 1), length(g), TRUE), 0), 4)
for (batch in c("B1", "B2")) for (i in 1:6)
  row("", "0", format(start), "appearance", batch, paste0(batch, "-0-", i), 1, "none", "AK")
for (condition in names(pulls)) for (m in pulls[[condition]]) for (batch in c("B1", "B2")) {
  late <- if (condition == "30C65" && m == 9) 20 else 1 # out of its window
  life <- 8.5 * ratio(celsius[[condition]], 80) * (-log(runif(6)))^0.45
  grade <- pmin(floor(3 * m / life), 4)
  both <- m >= 6 || condition == "40C75" && m == 3
  second <- other(grade)
  for (i in 1:6) {
    unit <- paste0(batch, "-", condition, "-", m, "-", i)
    row(condition, paste0(m, "M"), day(m, late), "appearance", batch, unit, 1, names.of[grade[i] + 1], "AK")
    if (both) row(condition, paste0(m, "M"), day(m, late), "appearance", batch, unit, 2, names.of[second[i] + 1], "RT")
  }
}
for (condition in names(pulls)) for (batch in c("B1", "B2")) {
  life <- 9 * ratio(celsius[[condition]], 120) * exp(rnorm(10, 0, 0.6))
  for (m in c(0, pulls[[condition]])) for (i in 1:10) {
    if (i == 4 && m == 2) next # overlooked
    row(condition, if (m == 0) "0" else paste0(m, "M"), if (m == 0) format(start) else day(m, 1), "leak", batch,
        paste0(condition, "-", i), 1, if (life[i] <= m) "fail" else "pass", "AK")
  }
}
write.csv(rows, "results.csv", row.names = FALSE, quote = FALSE)

# --- What its units say -----------------------------------------------------------
d <- read.csv("results.csv", colClasses = "character")
d$months <- ifelse(d$time == "0", 0, as.numeric(as.Date(d$pulled) - start) / 30.4375)
d$celsius <- celsius[d$condition]
d$failed <- d$value %in% c("marked", "severe", "fail")
out <- NULL
say <- function(case, distribution, quantity, value)
  out <<- rbind(out, data.frame(case, distribution, quantity, value = sprintf("%.12g", value)))

# Each unit's interval, by the first failure.
units <- do.call(rbind, lapply(split(d[d$condition != "", ], with(d[d$condition != "", ], paste(attribute, condition, batch, unit))), function(u) {
  by <- if (any(u$failed)) min(u$months[u$failed]) else Inf
  # Readings of one look count by the worst.
  passed <- setdiff(u$months, u$months[u$failed])
  data.frame(u[1, c("attribute", "condition", "celsius")], after = max(0, passed[passed < by]), by)
}))

lower.tail <- list(lognormal = function(z) pnorm(z, log.p = TRUE), weibull = function(z) ifelse(z < -30, z - exp(z) / 2, log(-expm1(-exp(z)))))
upper.tail <- list(lognormal = function(z) pnorm(z, lower.tail = FALSE, log.p = TRUE), weibull = function(z) -exp(z))
quantile0 <- list(lognormal = qnorm, weibull = function(p) log(-log1p(-p)))
loglik <- function(d, distribution, mu, sigma) {
  lo <- (log(d$after) - mu) / sigma; hi <- (log(d$by) - mu) / sigma
  left <- d$after == 0; right <- is.infinite(d$by); rest <- !(left | right)
  l <- numeric(nrow(d))
  l[left] <- lower.tail[[distribution]](hi[left])
  l[right] <- upper.tail[[distribution]](lo[right])
  a <- upper.tail[[distribution]](lo[rest]); b <- upper.tail[[distribution]](hi[rest])
  up <- a + log1p(-exp(b - a))
  a <- lower.tail[[distribution]](lo[rest]); b <- lower.tail[[distribution]](hi[rest])
  down <- b + log1p(-exp(a - b))
  l[rest] <- ifelse(lo[rest] + hi[rest] > 0, up, down)
  sum(l)
}
greatest <- function(f, start) {
  if (length(start) == 1) return(optimize(f, start + c(-3, 8), maximum = TRUE, tol = 1e-10)$objective)
  for (k in 1:20) {
    o <- nlminb(start, function(p) -f(p), scale = 1 / pmax(abs(start), 0.1), control = list(rel.tol = 1e-15, x.tol = 1e-12, eval.max = 2000, iter.max = 1000))
    if (k > 1 && abs(o$objective - before) < 1e-12 * abs(before)) break
    start <- o$par; before <- o$objective
  }
  -o$objective
}
run <- function(case, d, arrhenius, at = d$celsius[1]) {
  temperatures <- unique(d$celsius)
  inv <- mean(1 / (temperatures + 273.15))
  u.of <- function(celsius) 1000 / R * (1 / (celsius + 273.15) - inv)
  d$u <- if (arrhenius) u.of(d$celsius) else 0
  y <- Surv(ifelse(d$after == 0, NA, d$after), ifelse(is.finite(d$by), d$by, NA), type = "interval2")
  for (distribution in c("lognormal", "weibull")) {
    control <- survreg.control(maxiter = 500, rel.tolerance = 1e-14)
    fit <- if (arrhenius) survreg(y ~ u, d, dist = distribution, control = control)
      else survreg(y ~ 1, d, dist = distribution, control = control)
    b <- coef(fit); v <- vcov(fit); k <- nrow(v); n <- nrow(d)
    top <- loglik(d, distribution, as.vector(b[1] + (if (arrhenius) b[2] * d$u else 0)), fit$scale)
    stopifnot(abs(top - fit$loglik[2]) < 1e-7 * abs(top))
    say(case, distribution, "scale", fit$scale)
    say(case, distribution, "loglik", top)
    say(case, distribution, "aicc", -2 * top + 2 * k + 2 * k * (k + 1) / (n - k - 1))
    if (arrhenius) {
      say(case, distribution, "ea", b[2])
      level <- top - qnorm(0.975)^2 / 2
      held <- function(ea) greatest(function(p) loglik(d, distribution, p[1] + ea * d$u, exp(p[2])), c(b[1], log(fit$scale)))
      end <- function(s) {
        far <- b[2] + s * sqrt(v[2, 2])
        while (held(far) > level) far <- far + s * sqrt(v[2, 2])
        uniroot(function(e) held(e) - level, sort(unname(c(b[2], far))), tol = 1e-10)$root
      }
      say(case, distribution, "ea_low", end(-1)); say(case, distribution, "ea_high", end(1))
      free <- sum(sapply(temperatures, function(t) survreg(y[d$celsius == t] ~ 1, dist = distribution, control = control)$loglik[1]))
      chi <- 2 * (free - top)
      say(case, distribution, "common_chi", chi)
      say(case, distribution, "common_p", pchisq(chi, 2 * length(temperatures) - 3, lower.tail = FALSE))
    }
    new <- data.frame(u = if (arrhenius) u.of(at) else 0)
    p <- predict(fit, new, type = "uquantile", p = 0.05, se.fit = TRUE)
    say(case, distribution, "estimate", exp(p$fit))
    say(case, distribution, "wald", exp(p$fit - qnorm(0.95) * p$se.fit))
    q <- quantile0[[distribution]](0.05)
    held <- function(theta) if (arrhenius)
      greatest(function(par) loglik(d, distribution, theta - exp(par[2]) * q + par[1] * (d$u - new$u), exp(par[2])), c(b[2], log(fit$scale)))
      else greatest(function(par) loglik(d, distribution, theta - exp(par) * q, exp(par)), log(fit$scale))
    # Where few failed the profile may stay above the level however short the time:
    # there is then no bound, which is written as 0.
    told <- sum(is.finite(d$by)) - sum(is.finite(d$by) & d$after == 0) / 2
    nu <- max(1, told - k)
    square <- c(profile = qnorm(0.95)^2, calibrated = max(told, nu) * log1p(qt(0.95, nu)^2 / nu))
    for (bound in names(square)) {
      level <- top - square[[bound]] / 2
      far <- p$fit - p$se.fit; step <- p$se.fit
      while (held(far) > level && far > -2000) { far <- far - step; step <- 1.5 * step }
      say(case, distribution, bound, if (held(far) > level) 0 else exp(uniroot(function(t) held(t) - level, c(far, p$fit), tol = 1e-10)$root))
    }
  }
}
appearance <- units[units$attribute == "appearance", ]
leak <- units[units$attribute == "leak", ]
print(table(units$attribute, units$condition, is.finite(units$by)))
run("appearance", appearance, TRUE, 25)
for (c in names(celsius)) run(paste("appearance", c), appearance[appearance$condition == c, ], FALSE)
run("leak 40C75", leak[leak$condition == "40C75", ], FALSE)

for (a in c("appearance", "leak")) for (c in names(celsius)) {
  u <- units[units$attribute == a & units$condition == c, ]
  say(paste(a, c), "", "units", nrow(u)); say(paste(a, c), "", "failed", sum(is.finite(u$by)))
  if (any(is.finite(u$by))) {
    # Of units opened once the estimate is the isotonic regression of the failures
    # on time (Ayer et al., Ann. Math. Stat. 26, 1955, 641-647), which survfit's
    # steps of self-consistency come to only slowly.
    if (a == "appearance") {
      t <- ifelse(is.finite(u$by), u$by, u$after)
      o <- order(t, -is.finite(u$by))
      share <- tapply(isoreg(seq_along(t), tapply(is.finite(u$by), t, mean)[as.character(t)][o])$yf, t[o], max)
      for (b in names(share)) say(paste(a, c), "", sprintf("failed_by_%.4f", as.numeric(b)), share[[b]])
    } else {
      s <- survfit(Surv(ifelse(u$after == 0, NA, u$after), ifelse(is.finite(u$by), u$by, NA), type = "interval2") ~ 1)
      for (t in unique(u$by[is.finite(u$by)])) say(paste(a, c), "", sprintf("failed_by_%.4f", t), 1 - summary(s, times = t + 1e-6, extend = TRUE)$surv)
    }
  }
  x <- d[d$attribute == a & d$condition == c & d$time == paste0(max(pulls[[c]]), "M"), ]
  x <- tapply(x$failed, paste(x$batch, x$unit), any)
  say(paste(a, c), "", "at_most", binom.test(sum(x), length(x), alternative = "less", conf.level = 0.95)$conf.int[2])
}

# Both assessors on the same samples.
g <- d[d$attribute == "appearance", ]
g <- merge(g[g$analyst == "AK", ], g[g$analyst == "RT", ], by = c("condition", "time", "batch", "unit"))
k <- Kappa(table(factor(g$value.x, names.of), factor(g$value.y, names.of)), weights = "Equal-Spacing")
say("agreement", "", "samples", nrow(g)); say("agreement", "", "same", sum(g$value.x == g$value.y))
say("agreement", "", "kappa", k$Weighted[[1]]); say("agreement", "", "se", k$Weighted[[2]])
write.csv(out, "lifetimes-study.csv", row.names = FALSE, quote = FALSE)
