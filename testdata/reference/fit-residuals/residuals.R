# What lines leave over, on the value's scale, and its normal quantiles (Blom).
# Run in this folder: Rscript residuals.R
set.seed(52)
months <- rep(c(0, 3, 6, 9, 12, 18), each = 2)
d <- rbind(
  data.frame(attribute = "zero-order", batch = "B1", months, value = 100 - 0.30 * months),
  data.frame(attribute = "zero-order", batch = "B2", months, value = 99 - 0.90 * months),
  data.frame(attribute = "first-order", batch = "B1", months, value = 80 * exp(-0.010 * months)),
  data.frame(attribute = "first-order", batch = "B2", months, value = 90 * exp(-0.050 * months)))
d$value <- round(d$value + rnorm(nrow(d), sd = 0.6), 2)
out <- NULL
lines <- NULL
for (a in unique(d$attribute)) {
  e <- d[d$attribute == a, ]
  if (a == "zero-order") mean <- fitted(lm(value ~ batch * months, e)) else mean <- exp(fitted(lm(log(value) ~ batch * months, e)))
  e$residual <- e$value - mean
  e$normal <- qnorm((rank(e$residual, ties.method = "first") - 3/8) / (nrow(e) + 1/4))
  out <- rbind(out, e)
  q <- quantile(e$residual, c(0.25, 0.75), names = FALSE)  # as qqline draws it
  spread <- diff(q) / diff(qnorm(c(0.25, 0.75)))
  lines <- rbind(lines, data.frame(attribute = a, centre = sprintf("%.13g", q[1] - spread * qnorm(0.25)), spread = sprintf("%.13g", spread)))
}
out$residual <- sprintf("%.13g", out$residual)
out$normal <- sprintf("%.13g", out$normal)
write.csv(out, "residuals.csv", row.names = FALSE, quote = FALSE)
write.csv(lines, "lines.csv", row.names = FALSE, quote = FALSE)
