# Reference for tolerance limits of units about a regression line, by R's lm,
# vcov, qt(ncp=) and uniroot. Run in this folder: Rscript tolerance.R
# The data are those of ../pooling, made by its script. A limit is compared with
# y less share times the fitted start, on the model's scale. Made with R 4.2.2.
options(digits = 17)
data <- read.csv("../pooling/data.csv")
cases <- read.csv(strip.white = TRUE, text = "
case,data,scale,share,level,above,coverage,confidence,alpha
separate,slopes-differ,identity,0,90,FALSE,0.95,0.95,0.25
common slope,intercepts-differ,identity,0,92,FALSE,0.95,0.95,0.25
pooled,alike,identity,0,92,FALSE,0.95,0.95,0.25
pooled at 90/99,alike,identity,0,92,FALSE,0.90,0.99,0.25
pooled at 99/95,alike,identity,0,92,FALSE,0.99,0.95,0.25
upper,rising,identity,0,1.5,TRUE,0.95,0.95,0.25
logarithm,decay,log,0,4.1,FALSE,0.95,0.95,0.25
logarithm alike,decay-alike,log,0,3.8,FALSE,0.95,0.95,0.05
percent of the start,alike,identity,0.9,0,FALSE,0.95,0.95,0.25
percent under the logarithm,decay,log,1,-0.3,FALSE,0.95,0.95,0.25
change,rising,identity,1,1.2,TRUE,0.95,0.95,0.25
one batch without significance,level,identity,0,5.0,FALSE,0.95,0.95,0.25
breached at the start,alike,identity,0,100,FALSE,0.95,0.95,0.25
never,rising,identity,0,-1,FALSE,0.95,0.95,0.25
")
write.csv(cases, "cases.csv", row.names = FALSE, quote = FALSE)
k <- function(h, df, p, conf) qt(conf, df, ncp = qnorm(p) / sqrt(h)) * sqrt(h)
answer <- function(case) {
  d <- data[data$data == case$data, ]
  d$batch <- factor(d$batch)
  d$y <- if (case$scale == "log") log(d$value) else d$value
  if (nlevels(d$batch) == 1) { fit <- lm(y ~ months, d); decision <- "separate" } else {
    sep <- lm(y ~ 0 + batch + batch:months, d); com <- lm(y ~ 0 + batch + months, d); poo <- lm(y ~ months, d)
    ms <- deviance(sep) / sep$df.residual
    p <- function(a, b) pf((deviance(a) - deviance(b)) / (a$df.residual - b$df.residual) / ms, a$df.residual - b$df.residual, sep$df.residual, lower.tail = FALSE)
    if (p(com, sep) < case$alpha) { fit <- sep; decision <- "separate" }
    else if (p(poo, com) < case$alpha) { fit <- com; decision <- "common-slope" }
    else { fit <- poo; decision <- "pooled" }
  }
  B <- coef(fit); V <- vcov(fit) / sigma(fit)^2; s <- sigma(fit); df <- fit$df.residual
  do.call(rbind, lapply(levels(d$batch), function(b) {
    row <- function(t) { # prediction vector of this batch's mean
      v <- setNames(numeric(length(B)), names(B))
      if ("(Intercept)" %in% names(B)) { v["(Intercept)"] <- 1; v["months"] <- t }
      else { v[paste0("batch", b)] <- 1; v[if ("months" %in% names(B)) "months" else paste0("batch", b, ":months")] <- t }
      v }
    sgn <- if (case$above) -1 else 1
    left <- function(t, factor) { v <- row(t) - case$share * row(0)
      h <- drop(t(v) %*% V %*% v)
      sgn * (sum(v * B) - case$level) - s * factor(h) }
    first <- function(factor) {
      from <- 1e-7 # at zero the leverage of a change vanishes
      if (left(from, factor) <= 0) return(0)
      at <- from; while (left(at, factor) > 0) { before <- at; at <- at * 1.05 + 0.05; if (at > 1000) return(Inf) }
      uniroot(function(t) left(t, factor), c(before, at), tol = 1e-13, maxiter = 10000)$root }
    kf <- function(h) k(h, df, case$coverage, case$confidence)
    v10 <- row(10) - case$share * row(0)
    h10 <- drop(t(v10) %*% V %*% v10)
    data.frame(case = case$case, batch = b, decision = decision, df = df, s = s, leverage10 = h10, k10 = kf(h10),
      estimate = first(function(h) qnorm(case$coverage)), shelf_life = first(kf))
  }))
}
out <- do.call(rbind, lapply(seq_len(nrow(cases)), function(i) answer(cases[i, ])))
for (j in names(out)) if (is.double(out[[j]])) out[[j]] <- sprintf("%.15g", out[[j]])
write.csv(out, "answers.csv", row.names = FALSE, quote = FALSE)
