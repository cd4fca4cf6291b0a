# Reference numbers for poolability, the confidence limits of the four models
# and the choice among them, by R's lm, anova, predict, vcov, AIC and uniroot.
# Run in this directory: Rscript pooling.R
# It writes data.csv (invented), cases.csv (what is asked of them), lines.csv,
# tests.csv and aicc.csv (the answers). Made with R 4.2.2, its stats package only.
set.seed(20260113, kind = "Mersenne-Twister", normal.kind = "Inversion")
options(digits = 17)

months <- c(0, 91, 183, 274, 365, 548, 731) / 30.4375   # pulled on days, so no round months
simulate <- function(data, batches, f, sd, relative = FALSE, at = months, digits = 2) {
  do.call(rbind, lapply(seq_along(batches), function(i) {
    t <- round(at + c(0, runif(length(at) - 1, -0.2, 0.2)), 4)
    mean <- f(t, batches[[i]])
    e <- rnorm(length(t), 0, sd)
    y <- if (relative) mean * exp(e) else mean + e
    data.frame(data = data, batch = paste0("B", i), months = t, value = round(y, digits))
  }))
}
zero  <- function(t, p) p[1] + p[2] * t
first <- function(t, p) p[1] * exp(-p[2] * t)
second <- function(t, p) 1 / (1 / p[1] + p[2] * t)
root  <- function(t, p) p[1] + p[2] * sqrt(t)
data <- rbind(
  simulate("slopes-differ",     list(c(101.4, -0.20), c(100.9, -0.36), c(101.8, -0.58)), zero, 0.7),
  simulate("intercepts-differ", list(c(101.5, -0.31), c(104.0, -0.31), c(99.2, -0.31)), zero, 0.6),
  simulate("alike",             list(c(100.8, -0.25), c(100.8, -0.25), c(100.8, -0.25)), zero, 0.8),
  simulate("rising",            list(c(0.30, 0.041), c(0.22, 0.041), c(0.36, 0.041)), zero, 0.03, digits = 3),
  simulate("decay",             list(c(100, 0.020), c(99, 0.031), c(101, 0.038)), first, 0.02, TRUE),
  simulate("decay-alike",       list(c(100, 0.030), c(100, 0.030)), first, 0.02, TRUE),
  simulate("reciprocal",        list(c(100, 4e-4), c(98, 4e-4), c(103, 4e-4)), second, 0.01, TRUE),
  simulate("root",              list(c(100, -4.1), c(101, -4.1), c(99.5, -4.1)), root, 0.8),
  simulate("level",             list(c(5.61, 0.0045)), zero, 0.05),
  simulate("viscosity",         list(c(31000, -120), c(29500, -120), c(30500, -240)), zero, 500, digits = 0))
write.csv(data, "data.csv", row.names = FALSE, quote = FALSE)

cases <- read.csv(strip.white = TRUE, text = "
case,data,model,basis,lower,upper,direction,confidence,alpha,baseline
separate lower,slopes-differ,zero-order,value,90,Inf,either,0.95,0.25,0
common slope lower,intercepts-differ,zero-order,value,92,Inf,either,0.95,0.25,0
pooled lower,alike,zero-order,value,92,Inf,either,0.95,0.25,0
pooled two-sided,alike,zero-order,value,92,103,either,0.95,0.25,0
upper,rising,zero-order,value,-Inf,1.5,either,0.95,0.25,0
falls with two limits,slopes-differ,zero-order,value,90,102,falls,0.95,0.25,0
rises with two limits,rising,zero-order,value,0,1.5,rises,0.95,0.25,0
first-order separate,decay,first-order,value,60,Inf,either,0.95,0.25,0
first-order alike,decay-alike,first-order,value,60,110,either,0.95,0.05,0
first-order percent,decay,first-order,percent-of-initial,75,Inf,falls,0.95,0.25,0
second-order,reciprocal,second-order,value,55,Inf,either,0.95,0.25,0
second-order two-sided,reciprocal,second-order,value,55,110,either,0.95,0.05,0
second-order percent,reciprocal,second-order,percent-of-initial,60,Inf,either,0.95,0.25,0
root,root,square-root-time,value,78,Inf,either,0.95,0.25,0
root percent,root,square-root-time,percent-of-initial,80,Inf,either,0.95,0.25,0
root change,root,square-root-time,change-from-initial,-20,Inf,falls,0.95,0.25,0
Fieller separate,slopes-differ,zero-order,percent-of-initial,90,Inf,either,0.95,0.25,0
Fieller common slope,intercepts-differ,zero-order,percent-of-initial,92,Inf,either,0.95,0.25,0
Fieller two-sided,viscosity,zero-order,percent-of-initial,80,120,either,0.95,0.25,0
Fieller upper,rising,zero-order,percent-of-initial,-Inf,500,either,0.95,0.25,0
change upper,rising,zero-order,change-from-initial,-Inf,1.2,either,0.95,0.25,0
change two-sided,viscosity,zero-order,change-from-initial,-6000,6000,either,0.95,0.25,0
one batch rising without significance,level,zero-order,value,5.0,Inf,either,0.95,0.25,0
one batch two-sided,level,zero-order,value,5.0,6.0,either,0.95,0.25,0
other levels,viscosity,zero-order,value,18000,42000,either,0.99,0.05,0
baseline,intercepts-differ,zero-order,value,92,Inf,either,0.95,0.25,2.5
baseline percent root,root,square-root-time,percent-of-initial,90,Inf,either,0.95,0.25,2.5
")
write.csv(cases, "cases.csv", row.names = FALSE, quote = FALSE)

g  <- list("zero-order" = identity, "first-order" = log, "second-order" = function(y) 1 / y, "square-root-time" = identity)
lg <- list("zero-order" = function(y) 0 * y, "first-order" = function(y) -log(y), "second-order" = function(y) -2 * log(y),
           "square-root-time" = function(y) 0 * y)
tau <- function(model, t) if (model == "square-root-time") sqrt(t) else t

first_root <- function(h) {            # first t >= 0 with h(t) <= 0; h(0) > 0
  if (h(0) <= 0) return(0)
  grid <- c(seq(0, 400, 0.25), 400 * 1.05^(1:150))
  i <- which(vapply(grid, h, 0) <= 0)[1]
  if (is.na(i)) return(Inf)
  uniroot(h, grid[c(i - 1, i)], tol = 1e-13, maxiter = 10000)$root
}

answer <- function(case) {
  d <- data[data$data == case$data & data$months >= case$baseline, ]
  m <- case$model
  d$z <- g[[m]](d$value); d$x <- tau(m, d$months - case$baseline)
  d$batch <- factor(d$batch); b <- nlevels(d$batch)
  if (b == 1) {
    chosen <- lm(z ~ x, d); decision <- "separate"; slopes <- intercepts <- c(NA, NA)
  } else {
    separate <- lm(z ~ 0 + batch + batch:x, d); common <- lm(z ~ 0 + batch + x, d); pooled <- lm(z ~ x, d)
    a <- anova(pooled, common, separate)           # both against the separate model's mean square
    slopes <- c(a$F[3], a$`Pr(>F)`[3]); intercepts <- c(a$F[2], a$`Pr(>F)`[2])
    if (slopes[2] < case$alpha) { decision <- "separate"; chosen <- separate; intercepts <- c(NA, NA) }
    else if (intercepts[2] < case$alpha) { decision <- "common-slope"; chosen <- common }
    else { decision <- "pooled"; chosen <- pooled }
  }
  low <- is.finite(case$lower) && case$direction != "rises"; high <- is.finite(case$upper) && case$direction != "falls"
  one <- xor(low, high); df <- df.residual(chosen)
  q <- qt(if (one) case$confidence else (1 + case$confidence) / 2, df)
  beta <- coef(chosen); V <- vcov(chosen)
  # a and b of one batch as combinations of the coefficients
  pick <- function(name) {
    A <- matrix(0, 2, length(beta), dimnames = list(c("a", "b"), names(beta)))
    if ("(Intercept)" %in% names(beta)) { A["a", "(Intercept)"] <- 1; A["b", "x"] <- 1 }
    else { A["a", paste0("batch", name)] <- 1
           A["b", if ("x" %in% names(beta)) "x" else paste0("batch", name, ":x")] <- 1 }
    A
  }
  lines <- do.call(rbind, lapply(levels(d$batch), function(name) {
    A <- pick(name); ab <- drop(A %*% beta); W <- A %*% V %*% t(A)
    est <- function(w) sum(w * ab); se <- function(w) sqrt(max(0, drop(t(w) %*% W %*% w)))
    # inside(side, limit, x, q): >= 0 while the confidence limit of y is within its acceptance limit
    inside <- function(side, limit, x, q) {
      s <- if (side == "lower") 1 else -1           # on the scale of y
      if (m == "second-order") s <- -s              # 1/y turns it round
      if (case$basis == "value") { w <- c(1, x); at <- g[[m]](limit) }
      else if (case$basis == "change-from-initial") { w <- c(0, x); at <- limit }
      else if (m == "first-order") { w <- c(0, x); at <- log(limit / 100) }
      else { p <- limit / 100; if (m == "second-order") p <- 1 / p; w <- c(1 - p, x); at <- 0 }
      s * (est(w) - at) - q * se(w)
    }
    life <- function(q) {
      r <- c(lower = Inf, upper = Inf)
      if (low)  r["lower"] <- first_root(function(t) inside("lower", case$lower, tau(m, t), q))
      if (high) r["upper"] <- first_root(function(t) inside("upper", case$upper, tau(m, t), q))
      ifelse(r == 0, 0, r + case$baseline)
    }
    bound <- life(q); mean <- life(0)
    # the curve at 10 months after the baseline: the limit that is just met there
    x <- tau(m, 10)
    ratio <- (ab["a"] + ab["b"] * x) / ab["a"]
    middle <- switch(case$basis,
      "value" = switch(m, "first-order" = exp(est(c(1, x))), "second-order" = 1 / est(c(1, x)), est(c(1, x))),
      "change-from-initial" = est(c(0, x)),
      100 * switch(m, "first-order" = exp(est(c(0, x))), "second-order" = 1 / ratio, ratio))
    wide <- 0.5 * abs(middle)
    limit <- function(side, range) uniroot(function(l) inside(side, l, x, q), range, tol = 1e-14 * abs(middle), maxiter = 10000)$root
    data.frame(case = case$case, batch = name, n = sum(d$batch == name), intercept = ab["a"], slope = ab["b"], slope_se = se(c(0, 1)),
      estimate_months = min(mean), shelf_life_months = min(bound),
      limited_by = if (all(is.infinite(bound))) "" else names(which.min(bound)),
      mean10 = unname(middle),
      lower10 = if (low) limit("lower", c(middle - wide, middle)) else NA,
      upper10 = if (high) limit("upper", c(middle, middle + wide)) else NA)
  }))
  list(lines = lines, tests = data.frame(case = case$case, decision = decision, slopes_f = slopes[1], slopes_p = slopes[2],
    intercepts_f = intercepts[1], intercepts_p = intercepts[2], one_sided = one, quantile = q, residual_sd = sigma(chosen), df = df))
}
answers <- lapply(seq_len(nrow(cases)), function(i) answer(cases[i, ]))
exact <- function(d) { for (j in names(d)) if (is.double(d[[j]])) d[[j]] <- ifelse(is.na(d[[j]]), "", sprintf("%.15g", d[[j]])); d }
save <- function(d, file) write.csv(exact(d), file, row.names = FALSE, quote = FALSE)
save(do.call(rbind, lapply(answers, `[[`, "lines")), "lines.csv")
save(do.call(rbind, lapply(answers, `[[`, "tests")), "tests.csv")

# AICc of separate lines: R's AIC counts 2b coefficients and a variance.
save(do.call(rbind, lapply(split(data, data$data), function(d) do.call(rbind, lapply(names(g), function(m) {
  d$z <- g[[m]](d$value); d$x <- tau(m, d$months); d$batch <- factor(d$batch)
  fit <- if (nlevels(d$batch) == 1) lm(z ~ x, d) else lm(z ~ 0 + batch + batch:x, d)
  k <- attr(logLik(fit), "df"); n <- nrow(d)
  data.frame(data = d$data[1], model = m, n = n, k = k, aicc = AIC(fit) - 2 * sum(lg[[m]](d$value)) + 2 * k * (k + 1) / (n - k - 1))
})))), "aicc.csv")
