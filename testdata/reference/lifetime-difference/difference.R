# Lifetimes of units in two packs compared, known between looks only: survreg (type
# interval2) of R's survival with a factor, a distribution of one scale:
#   Rscript difference.R
# Units that leak are put back and looked at until they leak; of those that blister each
# is opened once. Packs against the jar. p is that of the likelihood ratio; intervals are
# of the profile likelihood, by hand (survreg with the difference held as an offset, and
# uniroot), at 95 % and at 1 − 0.05/3 for three packs. Batches are taken together here;
# strata.R reads looks.csv and takes them as strata. Data from a seed.
library(survival)
options(digits = 15)
set.seed(1)
write <- function(x, file) write.csv(format(x, digits = 15, trim = TRUE), file, row.names = FALSE, quote = FALSE)
times <- c(3, 6, 9, 12, 18)
packs <- c("jar", "tube", "can", "pump")
looks <- NULL
for (attribute in c("leak", "blister")) for (k in seq_along(packs)) for (b in 1:3) {
  median <- if (attribute == "leak") c(13, 8, 15, 90)[k] else c(14, 7, 90, 60)[k]
  sigma <- if (attribute == "leak") 0.4 else 0.5
  if (attribute == "leak") for (u in 1:6) {
    life <- median * exp(sigma * log(rexp(1)) + 0.2)
    for (t in times) {
      looks <- rbind(looks, data.frame(attribute, pack = packs[k], batch = b, unit = u, months = t, value = ifelse(life <= t, "fail", "pass")))
      if (life <= t) break
    }
  } else for (t in times) for (u in 1:4) {
    life <- median * exp(sigma * rnorm(1))
    looks <- rbind(looks, data.frame(attribute, pack = packs[k], batch = b, unit = paste0(t, "-", u), months = t, value = ifelse(life <= t, "fail", "pass")))
  }
}
write(looks, "looks.csv")

# The interval of each unit.
unit <- split(looks, paste(looks$attribute, looks$pack, looks$batch, looks$unit))
units <- do.call(rbind, lapply(unit, function(x) data.frame(attribute = x$attribute[1], pack = x$pack[1],
  after = max(0, x$months[x$value == "pass"]), by = min(Inf, x$months[x$value == "fail"]))))
units <- units[order(units$attribute, units$pack, units$after, units$by), ]
write(units, "units.csv")
control <- survreg.control(maxiter = 1000, rel.tolerance = 1e-13)
control$toler.chol <- 1e-14
out <- NULL
for (attribute in c("leak", "blister")) for (pack in packs[-1]) {
  d <- units[units$attribute == attribute & units$pack %in% c("jar", pack), ]
  d$other <- 1 * (d$pack == pack)
  y <- Surv(ifelse(d$after == 0, NA, d$after), ifelse(is.finite(d$by), d$by, NA), type = "interval2")
  failed <- tapply(is.finite(d$by), d$other, sum)
  if (min(failed) == 0 || sum(failed) < 10) next
  for (dist in c("lognormal", "weibull")) {
    fit <- survreg(y ~ other, d, dist = dist, control = control)
    none <- survreg(y ~ 1, d, dist = dist, control = control)
    loglik <- function(delta) survreg(y ~ 1 + offset(delta * other), d, dist = dist, control = control)$loglik[2]
    chi <- 2 * (fit$loglik[2] - none$loglik[2])
    e <- coef(fit)[["other"]]; se <- sqrt(vcov(fit)["other", "other"])
    end <- function(s, conf) { f <- function(x) 2 * (fit$loglik[2] - loglik(x)) - qchisq(conf, 1); uniroot(f, sort(c(e, e + 5 * s * se)), tol = 1e-11)$root }
    out <- rbind(out, data.frame(attribute, pack, distribution = dist, ln_ratio = e, se, location = coef(fit)[[1]], scale = fit$scale, loglik = fit$loglik[2],
      chi, p = pchisq(chi, 1, lower.tail = FALSE), low = end(-1, 0.95), high = end(1, 0.95), low_three = end(-1, 1 - 0.05 / 3), high_three = end(1, 1 - 0.05 / 3),
      failed = failed[["1"]], against_failed = failed[["0"]]))
  }
}
write(out, "difference.csv")
