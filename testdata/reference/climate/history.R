# What a history uses of a life, and what is left of it, by profile likelihoods
# worked out plainly: the share used, or the rest, is held at one value after the
# other, all else is fitted by lm and optimize, and the value at which the sum of
# squares meets its level is found by uniroot. The results are those of
# ../arrhenius/points.csv, and for unit rates made here.
# Run in this folder: Rscript history.R
#
# history.csv:   case, quantity, value
# unitrates.csv: batch, celsius, per_month
R <- 8.314462618 / 1000                 # kJ/(mol K)
points <- read.csv("../arrhenius/points.csv")
out <- NULL
say <- function(case, quantity, value)
  out <<- rbind(out, data.frame(case = case, quantity = quantity, value = sprintf("%.15g", value)))

g <- list("zero-order" = identity, "first-order" = log, "second-order" = function(y) 1 / y, "square-root-time" = identity)
order.of <- function(model) if (model == "square-root-time") 2 else 1
tau <- function(model, t) t^(1 / order.of(model))

# A warehouse, a lorry in the sun, a cold night and a shelf.
spells <- data.frame(celsius = c(22, 38, 4, 27.5, 51), months = c(1.5, 0.1, 0.05, 2, 0.01))

judge <- function(case, model, celsius, lower = -Inf, upper = Inf, basis = "value", rh = NULL, store = 25, store.rh = NA, own = FALSE, confidence = 0.95) {
  d <- points[points$case == case, ]
  q <- order.of(model)
  d$z <- g[[model]](d$value)
  d$x <- tau(model, d$months)
  d$batch <- factor(d$batch)
  used <- sort(unique(d$condition[d$condition >= 0]))
  iref <- mean(1 / (celsius[used + 1] + 273.15))
  u.of <- function(c) (1 / (c + 273.15) - iref) / R
  d$u <- ifelse(d$condition < 0, 0, u.of(celsius[pmax(d$condition, 0) + 1]))
  humidity <- !is.null(rh)
  rhref <- if (humidity) mean(rh[used + 1]) else 0
  d$h <- if (humidity) ifelse(d$condition < 0, 0, rh[pmax(d$condition, 0) + 1] - rhref) else 0
  d$x[d$condition < 0] <- 0
  h <- if (humidity) store.rh - rhref else 0
  us <- u.of(store); ui <- u.of(spells$celsius)
  extent <- function(ea, b) sum(spells$months * exp(q * (-ea * ui + b * h)))^(1 / q)
  rate <- function(ea, b) exp(-ea * us + b * h)

  nb <- nlevels(d$batch)
  design <- function(v) if (own) model.matrix(~ 0 + batch, d) * v else cbind(v)
  sse.at <- function(ea, b = 0) {
    v <- exp(-ea * d$u + b * d$h) * d$x
    sum(lm.fit(cbind(model.matrix(~ 0 + batch, d), design(v)), d$z)$residuals^2)
  }
  inner <- function(f, ea) if (!humidity) list(minimum = 0, objective = f(ea, 0)) else
    optimize(function(b) f(ea, b), c(-0.1, 0.2), tol = 1e-11)
  fit <- optimize(function(ea) inner(sse.at, ea)$objective, c(-50, 300), tol = 1e-10)
  ea <- fit$minimum
  b <- inner(sse.at, ea)$minimum
  sse <- fit$objective
  v <- exp(-ea * d$u + b * d$h) * d$x
  coefficients <- lm.fit(cbind(model.matrix(~ 0 + batch, d), design(v)), d$z)$coefficients
  nu <- nrow(d) - length(coefficients) - 1 - humidity
  say(case, "ea", ea)
  kappa <- if (own) coefficients[nb + seq_len(nb)] else rep(coefficients[nb + 1], nb)

  # The interval of Ea, and with it of the time that the history is worth.
  level2 <- sse * (1 + qt(1 - (1 - confidence) / 2, nu)^2 / nu)
  profile <- function(e) inner(sse.at, e)$objective - level2
  far <- 1; while (profile(ea - far) < 0) far <- far * 1.2
  low <- uniroot(profile, c(ea - far, ea), tol = 1e-12)$root
  far <- 1; while (profile(ea + far) < 0) far <- far * 1.2
  high <- uniroot(profile, c(ea, ea + far), tol = 1e-12)$root
  worth <- function(e) sum(spells$months * exp(-q * e * (ui - us)))
  grid <- sapply(seq(low, high, length.out = 20001), worth)
  say(case, "equivalent", worth(ea)); say(case, "equivalent_low", min(grid)); say(case, "equivalent_high", max(grid))
  ukm <- -log(sum(spells$months * exp(-q * ea * ui)) / sum(spells$months)) / (q * ea)
  say(case, "mkt", 1 / (ukm * R + iref) - 273.15)

  two <- is.finite(lower) && is.finite(upper)
  tq <- if (two) qt(1 - (1 - confidence) / 2, nu) else qt(confidence, nu)
  level <- sse * (1 + tq^2 / nu)
  answers <- NULL
  for (j in seq_len(nb)) for (limit in c(lower, upper)) {
    if (!is.finite(limit)) next
    alpha <- 1; beta <- g[[model]](limit)
    if (basis == "change-from-initial") { alpha <- 0; beta <- limit }
    if (basis == "percent-of-initial") { alpha <- 1 - limit / 100; beta <- 0 }
    crossing <- unname((beta - alpha * coefficients[j]) / kappa[j])   # extent at which the limit is met
    if (crossing <= 0) next
    mine <- d$batch == levels(d$batch)[j]
    # held is the least sum of squares where the crossing is at an extent that
    # hangs on the exponents.
    held <- function(cross) {
      f <- function(e, b) {
        v <- exp(-e * d$u + b * d$h) * d$x
        others <- model.matrix(~ 0 + batch, d)[, -j, drop = FALSE]
        free <- NULL
        if (own) { free <- others * v; v <- ifelse(mine, v, 0) }
        at <- cross(e, b)
        if (alpha == 0) return(sum(lm.fit(cbind(model.matrix(~ 0 + batch, d), free), d$z - beta / at * v)$residuals^2))
        z <- d$z - ifelse(mine, beta / alpha, 0)
        v <- v - ifelse(mine, at / alpha, 0)
        sum(lm.fit(cbind(others, free, v), z)$residuals^2)
      }
      optimize(function(e) inner(f, e)$objective, ea + c(-6, 6) * (high - low) / 4, tol = 1e-10)$objective
    }
    share <- (extent(ea, b) / crossing)^q
    over <- function(l) held(function(e, b) extent(e, b) * exp(-l / q)) - level
    near <- log(share); far <- near + 0.02
    while (over(far) < 0) { near <- far; far <- far + 0.02 }
    most <- exp(uniroot(over, c(near, far), tol = 1e-12)$root)
    rest <- (crossing^q - extent(ea, b)^q) / rate(ea, b)^q
    less <- function(r) held(function(e, b) (max(0, r * rate(e, b)^q + extent(e, b)^q))^(1 / q)) - level
    near <- rest; far <- rest * 0.98
    while (far > 1e-6 && less(far) < 0) { near <- far; far <- far - rest * 0.02 }
    least <- if (far > 1e-6) uniroot(less, c(far, near), tol = 1e-12)$root else 0
    answers <- rbind(answers, data.frame(batch = j - 1, used = share, bound = most, left = rest, least = least))
  }
  worst <- answers[which.max(answers$bound), ]
  say(case, "batch", worst$batch); say(case, "used", worst$used); say(case, "used_bound", worst$bound)
  say(case, "left", max(0, min(answers$left))); say(case, "left_bound", min(answers$least))
}

judge("zero3", "zero-order", c(30, 40, 50), lower = 90)
judge("first4", "first-order", c(25, 30, 40, 45), lower = 90)
judge("zero4", "zero-order", c(25, 30, 40, 45), upper = 1.5)
judge("first3", "first-order", c(40, 45, 50), lower = 45, upper = 60)
judge("root3", "square-root-time", c(30, 40, 50), upper = 13)
judge("percent0", "zero-order", c(30, 40, 50), lower = 92, basis = "percent-of-initial")
judge("change0", "zero-order", c(40, 45, 50), lower = -1, upper = 1, basis = "change-from-initial")
judge("own1", "first-order", c(25, 30, 40, 45), lower = 90, own = TRUE)
judge("humid", "first-order", c(25, 30, 40, 40), rh = c(60, 65, 75, 25), lower = 90, store.rh = 60)

# Rates of single units: ln rate = level - Ea u (+ B h). The median unit.
set.seed(31)
units <- expand.grid(unit = 1:4, celsius = c(25, 30, 40), batch = 0:1)
units$per_month <- signif(0.11 * exp(0.25 * units$batch - 46 / R * (1 / (units$celsius + 273.15) - 1 / 298.15) + rnorm(nrow(units), 0, 0.12)), 6)
write.csv(units[c("batch", "celsius", "per_month")], "unitrates.csv", row.names = FALSE, quote = FALSE)
for (own in c(FALSE, TRUE)) {
  case <- if (own) "units-own" else "units"
  upper <- 5; store <- 25
  iref <- mean(1 / (unique(units$celsius) + 273.15))
  u <- (1 / (units$celsius + 273.15) - iref) / R
  ui <- (1 / (spells$celsius + 273.15) - iref) / R; us <- (1 / (store + 273.15) - iref) / R
  z <- log(units$per_month)
  levels <- if (own) model.matrix(~ 0 + factor(batch), units) else matrix(1, nrow(units), 1)
  fit <- lm(z ~ 0 + levels + I(-u))
  nu <- fit$df.residual; sse <- sum(fit$residuals^2); ea <- unname(coef(fit)[ncol(levels) + 1])
  say(case, "ea", ea)
  half <- qt(0.975, nu) * summary(fit)$coefficients[ncol(levels) + 1, 2]
  worth <- function(e) sum(spells$months * exp(-e * (ui - us)))
  grid <- sapply(seq(ea - half, ea + half, length.out = 20001), worth)
  say(case, "equivalent", worth(ea)); say(case, "equivalent_low", min(grid)); say(case, "equivalent_high", max(grid))
  level <- sse * (1 + qt(0.95, nu)^2 / nu)
  extent <- function(e) sum(spells$months * exp(-e * ui))
  answers <- NULL
  for (k in seq_len(ncol(levels))) {
    held <- function(value) optimize(function(e) {   # value is the level of batch k
      rest <- z - levels[, k] * value(e) + e * u
      if (ncol(levels) == 1) sum(rest^2) else sum(lm.fit(levels[, -k, drop = FALSE], rest)$residuals^2)
    }, c(ea - 4 * half, ea + 4 * half), tol = 1e-11)$objective
    share <- exp(unname(coef(fit)[k])) * extent(ea) / upper
    over <- function(l) held(function(e) l + log(upper) - log(extent(e))) - level
    most <- exp(uniroot(over, log(share) + c(0, 1), tol = 1e-13)$root)
    rest <- (upper / exp(unname(coef(fit)[k])) - extent(ea)) * exp(ea * us)
    less <- function(r) held(function(e) log(upper) - log(r * exp(-e * us) + extent(e))) - level
    least <- uniroot(less, c(rest * 0.5, rest), tol = 1e-12)$root
    answers <- rbind(answers, data.frame(batch = if (own) k - 1 else -1, used = share, bound = most, left = rest, least = least))
  }
  worst <- answers[which.max(answers$bound), ]
  say(case, "batch", worst$batch); say(case, "used", worst$used); say(case, "used_bound", worst$bound)
  say(case, "left", min(answers$left)); say(case, "left_bound", min(answers$least))
}
write.csv(out, "history.csv", row.names = FALSE, quote = FALSE)
