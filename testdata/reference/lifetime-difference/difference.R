# Lifetimes of units in two packs compared, known between looks only: survreg (type
# interval2) of R's survival with a factor, a distribution of one scale:
#   Rscript difference.R
# Units that leak are put back and looked at until they leak; of those that blister each
# is opened once. Packs against the jar. p is that of the likelihood ratio; intervals are
# of the profile likelihood, by hand (survreg with the difference held as an offset, and
# uniroot), at 95 % and at 1 − 0.05/3 for three packs. "governs" is the distribution of the
# greater likelihood, or of two whose AIC is within 2 the one of the greater p. Where
# fewer than 10 units failed, or one of the packs has no finite estimate, Fisher's exact
# test of the units that had failed by 18 months stands; p-values of an attribute are
# adjusted by Holm. Data from a seed.
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
out <- tests <- NULL
for (attribute in c("leak", "blister")) {
  ps <- NULL
  for (pack in packs[-1]) {
    d <- units[units$attribute == attribute & units$pack %in% c("jar", pack), ]
    d$other <- 1 * (d$pack == pack)
    y <- Surv(ifelse(d$after == 0, NA, d$after), ifelse(is.finite(d$by), d$by, NA), type = "interval2")
    failed <- tapply(is.finite(d$by), d$other, sum); n <- table(d$other)
    l <- looks[looks$attribute == attribute & looks$pack %in% c("jar", pack), ]
    if (attribute == "leak") counts <- t(sapply(c(pack, "jar"), function(k) { x <- d[d$pack == k, ]; c(sum(is.finite(x$by)), nrow(x)) }))
    else counts <- t(sapply(c(pack, "jar"), function(k) { x <- l[l$pack == k & l$months == 18, ]; c(sum(x$value == "fail"), nrow(x)) }))
    fisher <- fisher.test(rbind(c(counts[1, 1], counts[1, 2] - counts[1, 1]), c(counts[2, 1], counts[2, 2] - counts[2, 1])))$p.value
    if (min(failed) == 0 || sum(failed) < 10) {
      ps <- rbind(ps, data.frame(attribute, pack, by = "fisher", governs = "", p = fisher, failed = counts[1, 1], units = counts[1, 2], against_failed = counts[2, 1], against_units = counts[2, 2]))
      next
    }
    rows <- NULL
    for (dist in c("lognormal", "weibull")) {
      fit <- survreg(y ~ other, d, dist = dist, control = control)
      none <- survreg(y ~ 1, d, dist = dist, control = control)
      loglik <- function(delta) survreg(y ~ 1 + offset(delta * other), d, dist = dist, control = control)$loglik[2]
      chi <- 2 * (fit$loglik[2] - none$loglik[2])
      e <- coef(fit)[["other"]]; se <- sqrt(vcov(fit)["other", "other"])
      end <- function(s, conf) { f <- function(x) 2 * (fit$loglik[2] - loglik(x)) - qchisq(conf, 1); uniroot(f, sort(c(e, e + 5 * s * se)), tol = 1e-11)$root }
      rows <- rbind(rows, data.frame(attribute, pack, distribution = dist, ln_ratio = e, se, location = coef(fit)[[1]], scale = fit$scale, loglik = fit$loglik[2],
        chi, p = pchisq(chi, 1, lower.tail = FALSE), low = end(-1, 0.95), high = end(1, 0.95), low_three = end(-1, 1 - 0.05 / 3), high_three = end(1, 1 - 0.05 / 3),
        failed = failed[["1"]], against_failed = failed[["0"]]))
    }
    out <- rbind(out, rows)
    best <- which.max(rows$loglik); other <- 3 - best
    if (2 * (rows$loglik[best] - rows$loglik[other]) < 2 && rows$p[other] > rows$p[best]) best <- other
    ps <- rbind(ps, data.frame(attribute, pack, by = "lifetimes", governs = rows$distribution[best], p = rows$p[best], failed = counts[1, 1], units = counts[1, 2], against_failed = counts[2, 1], against_units = counts[2, 2]))
  }
  ps$adjusted <- p.adjust(ps$p, "holm")
  tests <- rbind(tests, ps)
}
write(out, "difference.csv"); write(tests, "tests.csv")
close <- sapply(split(out, paste(out$attribute, out$pack)), function(x) abs(2 * diff(x$loglik)) < 2 && x$distribution[which.max(x$p)] != x$distribution[which.max(x$loglik)])
stopifnot(any(close), any(!close), any(tests$by == "fisher"))   # the data show each of the three
