# Censored lifetimes, lognormal and Weibull, with and without an Arrhenius term:
#   Rscript lifetime.R
# writes units.csv (our own data from a seed; turbine wheels of Nelson 1982 and
# motor insulation of Nelson & Hahn 1972 from R's survival package; the units of
# ../degradation-readouts.csv, whose time to 30 % is reckoned by each unit's line
# through the origin) and lifetime.csv.
#
# The estimates, errors and likelihoods are survreg's (type interval2), the
# quantiles and their errors predict.survreg's. The profiles are made by hand:
# the log-likelihood by pnorm, dnorm or by the extreme value's own, on the log
# scale, made greatest over the rest by nlminb, and uniroot on the level; the
# calibrated bound is on the level that Student's quantile sets for few failures.
library(survival)
R <- 8.314462618
units <- out <- NULL

lower.tail <- list(lognormal = function(z) pnorm(z, log.p = TRUE), weibull = function(z) ifelse(z < -30, z - exp(z) / 2, log(-expm1(-exp(z)))))
upper.tail <- list(lognormal = function(z) pnorm(z, lower.tail = FALSE, log.p = TRUE), weibull = function(z) -exp(z))
density <- list(lognormal = function(z) dnorm(z, log = TRUE), weibull = function(z) z - exp(z))
quantile0 <- list(lognormal = qnorm, weibull = function(p) log(-log1p(-p)))

say <- function(case, distribution, quantity, value)
  out <<- rbind(out, data.frame(case, distribution, quantity, value = sprintf("%.12g", value)))

loglik <- function(d, distribution, mu, sigma) {
  lo <- (log(d$after) - mu) / sigma; hi <- (log(d$by) - mu) / sigma
  exact <- d$after == d$by; left <- d$after == 0; right <- is.infinite(d$by); rest <- !(exact | left | right)
  l <- numeric(nrow(d))
  l[exact] <- density[[distribution]](lo[exact]) - log(sigma) - log(d$after[exact])
  l[left] <- lower.tail[[distribution]](hi[left])
  l[right] <- upper.tail[[distribution]](lo[right])
  a <- upper.tail[[distribution]](lo[rest]); b <- upper.tail[[distribution]](hi[rest])
  up <- a + log1p(-exp(b - a))
  a <- lower.tail[[distribution]](lo[rest]); b <- lower.tail[[distribution]](hi[rest])
  down <- b + log1p(-exp(a - b))
  l[rest] <- ifelse(lo[rest] + hi[rest] > 0, up, down)
  sum(d$units * l)
}
greatest <- function(f, start) {
  if (length(start) == 1) return(optimize(f, start + c(-3, 3), maximum = TRUE, tol = 1e-10)$objective)
  # Several restarts: the likelihood with a quantile far off held is a long ridge.
  for (k in 1:20) {
    o <- nlminb(start, function(p) -f(p), scale = 1 / pmax(abs(start), 0.1), control = list(rel.tol = 1e-15, x.tol = 1e-12, eval.max = 2000, iter.max = 1000))
    if (k > 1 && abs(o$objective - before) < 1e-12 * abs(before)) break
    start <- o$par; before <- o$objective
  }
  -o$objective
}

run <- function(case, d, arrhenius, at = NA, shares = c(0.05, 0.5)) {
  d <- d[d$units > 0, ]
  units <<- rbind(units, data.frame(case, d[, c("celsius", "after", "by", "units")]))
  temperatures <- unique(d$celsius)
  inv <- mean(1 / (temperatures + 273.15))
  u.of <- function(celsius) 1000 / R * (1 / (celsius + 273.15) - inv)
  d$u <- if (arrhenius) u.of(d$celsius) else 0
  y <- Surv(ifelse(d$after == 0, NA, d$after), ifelse(is.finite(d$by), d$by, NA), type = "interval2")
  for (distribution in c("lognormal", "weibull")) {
    control <- survreg.control(maxiter = 500, rel.tolerance = 1e-14)
    fit <- if (arrhenius) survreg(y ~ u, d, weights = units, dist = distribution, control = control)
      else survreg(y ~ 1, d, weights = units, dist = distribution, control = control)
    b <- coef(fit); v <- vcov(fit); n <- nrow(v)
    say(case, distribution, "location", b[1]); say(case, distribution, "location_se", sqrt(v[1, 1]))
    say(case, distribution, "scale", fit$scale); say(case, distribution, "logscale_se", sqrt(v[n, n]))
    say(case, distribution, "cov_location_logscale", v[1, n])
    if (arrhenius) {
      say(case, distribution, "ea", b[2]); say(case, distribution, "ea_se", sqrt(v[2, 2]))
      say(case, distribution, "cov_location_ea", v[1, 2]); say(case, distribution, "cov_ea_logscale", v[2, n])
    }
    top <- fit$loglik[2]
    mu <- as.vector(b[1] + (if (arrhenius) b[2] * d$u else 0))
    mine <- loglik(d, distribution, mu, fit$scale)
    stopifnot(abs(mine - top) < 1e-7 * abs(top))
    top <- mine
    say(case, distribution, "loglik", top)
    say(case, distribution, "aic", AIC(fit))

    if (arrhenius) {
      level <- top - qnorm(0.975)^2 / 2
      held <- function(ea) greatest(function(p) loglik(d, distribution, p[1] + ea * d$u, exp(p[2])), c(b[1], log(fit$scale)))
      end <- function(s) {
        far <- b[2] + s * sqrt(v[2, 2])
        while (held(far) > level) far <- far + s * sqrt(v[2, 2])
        uniroot(function(e) held(e) - level, sort(unname(c(b[2], far))), tol = 1e-10)$root
      }
      say(case, distribution, "ea_low", end(-1)); say(case, distribution, "ea_high", end(1))
    }
    for (celsius in at) for (share in shares) {
      new <- data.frame(u = if (arrhenius) u.of(celsius) else 0)
      p <- predict(fit, new, type = "uquantile", p = share, se.fit = TRUE)
      label <- paste0("at", if (arrhenius) celsius else "", "_", share)
      say(case, distribution, paste0(label, "_estimate"), exp(p$fit))
      say(case, distribution, paste0(label, "_se"), p$se.fit)
      say(case, distribution, paste0(label, "_wald"), exp(p$fit - qnorm(0.95) * p$se.fit))
      q <- quantile0[[distribution]](share)
      held <- function(theta) if (arrhenius)
        greatest(function(par) loglik(d, distribution, theta - exp(par[2]) * q + par[1] * (d$u - new$u), exp(par[2])), c(b[2], log(fit$scale)))
        else greatest(function(par) loglik(d, distribution, theta - exp(par) * q, exp(par)), log(fit$scale))
      told <- sum(d$units[is.finite(d$by)]) - sum(d$units[d$after == 0]) / 2
      nu <- max(1, told - n)
      square <- c(profile = qnorm(0.95)^2, calibrated = max(told, nu) * log1p(qt(0.95, nu)^2 / nu))
      for (bound in names(square)) {
        level <- top - square[[bound]] / 2
        far <- p$fit - p$se.fit
        while (held(far) > level) far <- far - p$se.fit
        say(case, distribution, paste0(label, "_", bound),
            exp(uniroot(function(t) held(t) - level, c(far, p$fit), tol = 1e-10)$root))
      }
    }
  }
}

data(reliability)
run("turbine", data.frame(celsius = 20, after = c(rep(0, 11), turbine$hours), by = c(turbine$hours, rep(Inf, 11)),
                          units = c(turbine$failed, turbine$inspected - turbine$failed)), FALSE)
run("motor", data.frame(celsius = imotor$temp, after = imotor$time, by = ifelse(imotor$status == 1, imotor$time, Inf), units = 1), TRUE, c(180, 130))

readouts <- read.csv("../degradation-readouts.csv")
rates <- sapply(split(readouts, readouts$unit), function(r) sum(r$hours * r$percent) / sum(r$hours^2))
temperature <- sapply(split(readouts$celsius, readouts$unit), unique)
# Full digits, so that the tests start from the same numbers.
life <- as.numeric(sprintf("%.15g", 30 / rates))
run("degradation", data.frame(celsius = temperature, after = life, by = life, units = 1), TRUE, c(85, 25))

set.seed(41)
exact <- function(x) as.numeric(sprintf("%.5g", x))
opened <- function(life, at) data.frame(after = ifelse(life > at, at, 0), by = ifelse(life > at, Inf, at), units = 1)
returned <- function(life, looks) data.frame(after = sapply(life, function(t) max(0, looks[looks < t])),
                                             by = sapply(life, function(t) min(Inf, looks[looks >= t])), units = 1)
life <- exp(rnorm(90, log(14), 0.5))
run("opened", cbind(celsius = 25, opened(life, rep(c(3, 6, 9, 12, 18, 24), 15))), FALSE)
life <- exp(rnorm(40, log(14), 0.4))
run("returned", cbind(celsius = 25, returned(life, c(3, 6, 9, 12, 18, 24))), FALSE)
life <- exp(log(20) + 0.35 * log(-log(runif(25))))
run("watched", data.frame(celsius = 25, after = exact(pmin(life, 22)), by = ifelse(life < 22, exact(life), Inf), units = 1), FALSE)

arrhenius <- function(celsius, at40, ea, sd) exp(rnorm(length(celsius), log(at40) + 1000 * ea / R * (1 / (celsius + 273.15) - 1 / 313.15), sd))
celsius <- rep(c(30, 40, 45, 50), each = 30)
run("opened4", cbind(celsius, opened(arrhenius(celsius, 8, 85, 0.5), rep(c(1, 2, 3, 6, 9, 12), 20))), TRUE, c(25, 5))
celsius <- rep(c(40, 45, 50), each = 12)
run("returned3", cbind(celsius, returned(arrhenius(celsius, 8, 85, 0.35), c(1, 2, 3, 6, 9, 12))), TRUE, c(40, 25))
celsius <- rep(c(25, 40, 50), each = 24)
life <- arrhenius(celsius, 7, 70, 0.6)
mixed <- returned(life, c(1, 2, 3, 6, 9, 12, 18))
mixed[1:3 + rep(c(0, 24, 48), each = 3), 1:2] <- exact(life[1:3 + rep(c(0, 24, 48), each = 3)])
mixed$units <- sample(1:4, 72, TRUE)
run("mixed3", cbind(celsius, mixed), TRUE, c(25, 5))
# Intervals of a day among months, where differences of probabilities are small.
celsius <- rep(c(35, 45), each = 10)
life <- arrhenius(celsius, 9, 90, 0.3)
run("narrow", data.frame(celsius, after = exact(life - 0.03), by = exact(life + 0.03), units = 1), TRUE, 25)

units$after <- sprintf("%.15g", units$after); units$by <- sprintf("%.15g", units$by)
write.csv(units, "units.csv", row.names = FALSE, quote = FALSE)
write.csv(out, "lifetime.csv", row.names = FALSE, quote = FALSE)
