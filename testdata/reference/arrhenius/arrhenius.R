# Reference values for the one-stage Arrhenius fit, from base R alone:
#   Rscript arrhenius.R
# writes points.csv (invented data, seeded) and arrhenius.csv (what R makes of
# them). The fit is nls on the whole data; the free-rate model lm; the profile
# of Ea and of the crossing time are built from lm at held values, with
# optimize over what is left and uniroot on the level.

R <- 8.314462618
points <- NULL
out <- NULL
say <- function(case, quantity, value)
  out <<- rbind(out, data.frame(case = case, quantity = quantity,
                                value = sprintf("%.12g", value)))

g <- list("zero-order" = identity, "first-order" = log,
          "second-order" = function(y) 1 / y, "square-root-time" = identity)
tau <- function(model, t) if (model == "square-root-time") sqrt(t) else t
untau <- function(model, x) if (model == "square-root-time") x^2 else x

# Invented data: batches a, rates by temperature (one for all batches, or one for
# each), scatter sd on the model's scale; drop(rows) are those not measured.
simulate <- function(case, model, seed, a, conditions, times, ref, rate, ea, sd,
                     sign, b = 0, rhref = 0, drop = NULL) {
  set.seed(seed)
  rows <- NULL
  for (i in seq_along(a)) {
    rows <- rbind(rows, data.frame(batch = i - 1, condition = -1, months = 0))
    for (k in seq_len(nrow(conditions)))
      rows <- rbind(rows, data.frame(batch = i - 1, condition = k - 1, months = times))
  }
  kelvin <- c(NA, conditions$celsius + 273.15)[rows$condition + 2]
  k <- rep_len(rate, length(a))[rows$batch + 1] * exp(-ea / R * (1 / kelvin - 1 / (ref + 273.15)))
  if (b != 0) k <- k * exp(b * (c(NA, conditions$rh)[rows$condition + 2] - rhref))
  k[rows$months == 0] <- 0
  z <- a[rows$batch + 1] + sign * k * tau(model, rows$months) + rnorm(nrow(rows), 0, sd)
  y <- switch(model, "first-order" = exp(z), "second-order" = 1 / z, z)
  rows$value <- as.numeric(sprintf("%.6g", y))
  if (!is.null(drop)) rows <- rows[!drop(rows), ]
  points <<- rbind(points, cbind(case = case, rows))
  rows
}

reference <- function(case, model, rows, conditions, lower, upper, basis = "value",
                      at, confidence = 0.95, start, humidity = FALSE, own = FALSE) {
  kc <- conditions$celsius + 273.15
  inv <- mean(1 / kc)
  rhref <- if (humidity) mean(conditions$rh) else 0
  u.of <- function(celsius) (1 / (celsius + 273.15) - inv) * 1000 / R   # per kJ/mol
  d <- rows
  d$z <- g[[model]](d$value)
  d$x <- tau(model, d$months)
  d$batch <- factor(d$batch)
  d$u <- c(0, u.of(conditions$celsius))[d$condition + 2]
  d$h <- if (humidity) c(0, conditions$rh - rhref)[d$condition + 2] else 0
  n <- nrow(d); nb <- nlevels(d$batch); nc <- nrow(conditions)
  # own: each batch has its own lambda, and its own free rates.
  p <- (if (own) nb else 1) + 1 + humidity
  nu <- n - nb - p

  cells <- if (own) paste0(d$condition, "of", as.integer(d$batch) - 1) else as.character(d$condition)
  cells[d$condition < 0] <- NA
  levels.of.cells <- sort(unique(cells[!is.na(cells)]))
  ncell <- length(levels.of.cells)
  free.x <- sapply(levels.of.cells, function(k) ifelse(!is.na(cells) & cells == k, d$x, 0))
  free <- lm(d$z ~ 0 + d$batch + free.x)
  cf <- summary(free)$coefficients
  for (k in seq_len(ncell)) {
    say(case, paste0("rate", levels.of.cells[k]), cf[nb + k, 1])
    say(case, paste0("se", levels.of.cells[k]), cf[nb + k, 2])
  }
  sgn <- sign(sum(cf[nb + seq_len(ncell), 1]))

  control <- nls.control(maxiter = 500, tol = 1e-7, minFactor = 1e-10, nDcentral = TRUE)
  fit <- if (humidity)
    nls(z ~ a[batch] + sgn * exp(lambda - ea * u + B * h) * x, d,
        start = c(list(a = tapply(d$z[d$months == 0], d$batch[d$months == 0], mean)), start),
        control = control)
  else if (own)
    nls(z ~ a[batch] + sgn * exp(lambda[batch] - ea * u) * x, d,
        start = c(list(a = tapply(d$z[d$months == 0], d$batch[d$months == 0], mean)), start),
        control = control)
  else
    nls(z ~ a[batch] + sgn * exp(lambda - ea * u) * x, d,
        start = c(list(a = tapply(d$z[d$months == 0], d$batch[d$months == 0], mean)), start),
        control = control)
  est <- coef(fit)
  sse <- deviance(fit)
  lambdas <- if (own) paste0("lambda", seq_len(nb)) else rep("lambda", nb)
  say(case, "ea", est["ea"]); say(case, "lambda", mean(est[lambdas]))
  say(case, "ea_se", summary(fit)$coefficients["ea", 2])
  if (humidity) {
    say(case, "B", est["B"]); say(case, "B_se", summary(fit)$coefficients["B", 2])
  }
  say(case, "sse", sse); say(case, "sd", sqrt(sse / nu)); say(case, "df", nu)

  sse0 <- deviance(free)
  df1 <- ncell - p; df2 <- n - nb - ncell
  if (df1 > 0) {
    f <- ((sse - sse0) / df1) / (sse0 / df2)
    say(case, "F", f); say(case, "P", pf(f, df1, df2, lower.tail = FALSE))
  }

  # With the exponents held the model is linear: lm gives the profile.
  by.batch <- function(v) if (own) model.matrix(~ 0 + batch, d) * v else v
  linear.sse <- function(ea, b = 0) {
    v <- by.batch(exp(-ea * d$u + b * d$h) * d$x)
    sum(lm.fit(cbind(model.matrix(~ 0 + batch, d), v), d$z)$residuals^2)
  }
  bwidth <- if (humidity) 12 * summary(fit)$coefficients["B", 2] else 0
  profile <- function(ea) if (!humidity) linear.sse(ea) else
    optimize(function(b) linear.sse(ea, b), est["B"] + c(-1, 1) * bwidth, tol = 1e-12)$objective
  se <- summary(fit)$coefficients["ea", 2]
  level2 <- sse * (1 + qt(1 - (1 - confidence) / 2, nu)^2 / nu)
  end <- function(s) {
    far <- est["ea"] + s * se
    while (profile(far) < level2) far <- far + s * se
    uniroot(function(e) profile(e) - level2, sort(unname(c(est["ea"], far))), tol = 1e-13)$root
  }
  say(case, "ea_low", end(-1)); say(case, "ea_high", end(1))

  # The crossing time, for each batch and limit; the shortest governs.
  two <- is.finite(lower) && is.finite(upper)
  tq <- if (two) qt(1 - (1 - confidence) / 2, nu) else qt(confidence, nu)
  level <- sse * (1 + tq^2 / nu)
  for (i in seq_len(nrow(at))) {
    celsius <- at$celsius[i]
    uT <- u.of(celsius); hT <- if (humidity) at$rh[i] - rhref else 0
    answers <- NULL
    for (j in seq_len(nb)) for (limit in c(lower, upper)) {
      kT <- sgn * exp(est[lambdas[j]] - est["ea"] * uT + (if (humidity) est["B"] * hT else 0))
      if (!is.finite(limit)) next
      # alpha*a + k*x = beta at the crossing
      alpha <- 1; beta <- g[[model]](limit)
      if (basis == "change-from-initial") { alpha <- 0; beta <- limit }
      if (basis == "percent-of-initial") {
        q <- limit / 100
        if (model == "first-order") { alpha <- 0; beta <- log(q) }
        else if (model == "second-order") { alpha <- 1 - 1 / q; beta <- 0 }
        else { alpha <- 1 - q; beta <- 0 }
      }
      a <- est[j]
      xhat <- unname((beta - alpha * a) / kT)
      if (xhat <= 0) next
      mine <- d$batch == levels(d$batch)[j]
      held <- function(x, ea, b) {
        vT <- exp(-ea * uT + b * hT)
        v <- exp(-ea * d$u + b * d$h) * d$x
        others <- model.matrix(~ 0 + batch, d)[, -j, drop = FALSE]
        free.v <- NULL                     # of the batches with a factor of their own
        if (own) { free.v <- others * v; v <- ifelse(mine, v, 0) }
        if (alpha == 0) {
          z <- d$z - beta / (vT * x) * v
          return(sum(lm.fit(cbind(model.matrix(~ 0 + batch, d), free.v), z)$residuals^2))
        }
        # a = (beta - kappa vT x)/alpha in the batch's own rows
        z <- d$z - ifelse(mine, beta / alpha, 0)
        v <- v - ifelse(mine, vT * x / alpha, 0)
        sum(lm.fit(cbind(others, free.v, v), z)$residuals^2)
      }
      crossing <- function(x) {
        if (!humidity)
          return(optimize(function(e) held(x, e, 0), est["ea"] + c(-8, 8) * se, tol = 1e-11)$objective)
        optimize(function(e)
          optimize(function(b) held(x, e, b), est["B"] + c(-1, 1) * bwidth, tol = 1e-11)$objective,
          est["ea"] + c(-8, 8) * se, tol = 1e-9)$objective
      }
      near <- xhat; far <- xhat * 0.98
      while (crossing(far) < level) { near <- far; far <- far * 0.98 }
      low <- exp(uniroot(function(l) crossing(exp(l)) - level, log(c(far, near)), tol = 1e-12)$root)
      # Delta method on ln x, with the gradient by hand and nls's covariance.
      covariance <- vcov(fit)
      gr <- setNames(numeric(length(est)), names(est))
      gr[j] <- -alpha / (beta - alpha * a)
      gr[lambdas[j]] <- -1; gr["ea"] <- uT
      if (humidity) gr["B"] <- -hT
      s <- sqrt(drop(t(gr) %*% covariance %*% gr))
      answers <- rbind(answers, data.frame(batch = j - 1, estimate = untau(model, xhat),
        bound = untau(model, low), delta = untau(model, xhat * exp(-tq * s))))
    }
    best <- answers[which.min(answers$bound), ]
    label <- paste0("at", celsius)
    say(case, paste0(label, "_batch"), best$batch)
    say(case, paste0(label, "_estimate"), best$estimate)
    say(case, paste0(label, "_bound"), best$bound)
    say(case, paste0(label, "_delta"), best$delta)
  }
}

three <- data.frame(celsius = c(30, 40, 50), rh = NA)
four <- data.frame(celsius = c(25, 30, 40, 45), rh = NA)
hot <- data.frame(celsius = c(40, 45, 50), rh = NA)
damp <- data.frame(celsius = c(25, 30, 40, 40), rh = c(60, 65, 75, 25))
at25 <- data.frame(celsius = c(25, 5), rh = NA)

run <- function(case, model, seed, a, conditions, times, ref, rate, ea, sd, sign,
                lower, upper, basis = "value", at = at25, b = 0, rhref = 0,
                start = list(lambda = log(rate), ea = ea / 1000), drop = NULL, ...) {
  rows <- simulate(case, model, seed, a, conditions, times, ref, rate, ea, sd, sign, b, rhref, drop)
  reference(case, model, rows, conditions, lower, upper, basis, at, start = start, ...)
}

run("zero3", "zero-order", 11, c(100.2, 99.4), three, c(1, 2, 3, 6), 40, 1.2, 80000, 0.6, -1, 90, Inf)
run("first4", "first-order", 12, log(c(100, 102, 98.5)), four, c(1, 3, 6, 9, 12), 40, 0.02, 85000, 0.012, -1, 90, Inf)
run("zero4", "zero-order", 13, c(0.2, 0.25, 0.3), four, c(3, 6, 9, 12), 40, 0.09, 95000, 0.08, 1, -Inf, 1.5)
run("first3", "first-order", 14, log(c(50, 52)), hot, c(1, 2, 3, 6), 45, 0.03, 90000, 0.015, -1, 45, 60)
run("second3", "second-order", 15, 1 / c(20, 21), three, c(1, 2, 4, 6), 40, 0.003, 70000, 0.0008, 1, 16, Inf)
run("root3", "square-root-time", 16, c(10.1, 9.8), three, c(1, 2, 4, 6, 9), 40, 0.8, 60000, 0.1, 1, -Inf, 13)
run("percent0", "zero-order", 17, c(100, 104), three, c(1, 2, 3, 6), 40, 1.1, 80000, 0.7, -1, 92, Inf, "percent-of-initial")
run("percent1", "first-order", 18, log(c(100, 104)), three, c(1, 2, 3, 6), 40, 0.012, 80000, 0.008, -1, 92, Inf, "percent-of-initial")
run("percent2", "second-order", 21, 1 / c(20, 21), three, c(1, 2, 4, 6), 40, 0.003, 70000, 0.0008, 1, 85, Inf, "percent-of-initial")
run("change0", "zero-order", 19, c(5.5, 5.6), hot, c(1, 2, 3, 6), 45, 0.1, 75000, 0.05, -1, -1, 1, "change-from-initial")
run("humid", "first-order", 20, log(c(100, 101)), damp, c(1, 3, 6, 9, 12), 40, 0.02, 85000, 0.01, -1, 90, Inf,
    at = data.frame(celsius = c(25, 20), rh = c(60, 40)), b = 0.012, rhref = 75, humidity = TRUE,
    start = list(lambda = log(0.01), ea = 85, B = 0.012))
# Scatter that does not rule out a negative activation energy: the bounds are of
# all that the level allows.
run("wide", "zero-order", 22, c(100, 101), hot, c(1, 2, 3, 6), 45, 0.8, 15000, 1.8, -1, 85, Inf)

# Each batch with its own factor of the rates; in the second the last batch was
# not stored at the coldest temperature, and the limits are on either side.
run("own1", "first-order", 23, log(c(100, 102, 98.5)), four, c(1, 3, 6, 9, 12), 40, c(0.02, 0.014, 0.026), 85000, 0.012, -1, 90, Inf,
    own = TRUE)
run("own0", "zero-order", 24, c(100, 104), three, c(1, 2, 3, 6), 40, c(1.1, 0.6), 80000, 0.5, -1, 92, 108, "percent-of-initial",
    own = TRUE, drop = function(rows) rows$batch == 1 & rows$condition == 0)

# AICc of the four models on the free-rate fit, one variance for all conditions.
for (case in c("first4", "root3", "zero3")) {
  d <- points[points$case == case, ]
  jacobian <- list("zero-order" = 0, "square-root-time" = 0,
                   "first-order" = -sum(log(d$value)), "second-order" = -2 * sum(log(d$value)))
  for (model in names(g)) {
    x <- sapply(sort(unique(d$condition[d$condition >= 0])), function(k)
      ifelse(d$condition == k, tau(model, d$months), 0))
    fit <- lm(g[[model]](d$value) ~ 0 + factor(d$batch) + x)
    n <- nrow(d); k <- length(coef(fit)) + 1
    say(case, paste0("aicc_", model),
        -2 * as.numeric(logLik(fit)) - 2 * jacobian[[model]] + 2 * k + 2 * k * (k + 1) / (n - k - 1))
  }
}

write.csv(points, "points.csv", row.names = FALSE, quote = FALSE)
write.csv(out, "arrhenius.csv", row.names = FALSE, quote = FALSE)
