# Reference for activation energies in common and apart: nls on assays of three
# packs, starts by batch and pack. Data from a seed. Run in this folder:
# Rscript parallel.R
options(digits = 15)
set.seed(20260402)
write <- function(x, file) write.csv(format(x, digits = 15, trim = TRUE), file, row.names = FALSE, quote = FALSE)
R <- 8.314462618
make <- function(set, ea, k40) {
  d <- expand.grid(months = c(0, 1, 2, 3, 6), celsius = c(25, 30, 40, 45), batch = 1:2, pack = 1:3)
  d <- d[!(d$months == 0 & d$celsius > 25), ]
  d$y <- round(100 + rnorm(6)[d$batch + 2 * (d$pack - 1)] - k40[d$pack] * exp(-ea[d$pack] * 1000 / R * (1 / (d$celsius + 273.15) - 1 / 313.15)) * d$months + rnorm(nrow(d)) * 0.3, 4)
  data.frame(set = set, d)
}
data <- rbind(make("parallel", c(85, 85, 85), c(1, 1.5, 2.2)), make("apart", c(60, 85, 110), c(1, 1.5, 2.2)))
write(data, "data.csv")
out <- NULL
for (s in c("parallel", "apart")) {
  d <- data[data$set == s, ]
  d$u <- 1000 / R * (1 / (d$celsius + 273.15) - 1 / 308.15); d$p <- d$pack; d$a <- d$batch + 2 * (d$pack - 1)
  control <- nls.control(tol = 1e-7, maxiter = 500, minFactor = 2^-40, nDcentral = TRUE)
  common <- nls(y ~ a0[a] - exp(l[p] - ea * u) * months, d, start = list(a0 = rep(100, 6), l = log(c(0.7, 1, 1.4)), ea = 80), control = control)
  own <- nls(y ~ a0[a] - exp(l[p] - ea[p] * u) * months, d, start = list(a0 = rep(100, 6), l = log(c(0.7, 1, 1.4)), ea = c(70, 85, 100)), control = control)
  t <- anova(common, own)
  out <- rbind(out, data.frame(set = s, ea = coef(common)["ea"], ea1 = coef(own)["ea1"], ea2 = coef(own)["ea2"], ea3 = coef(own)["ea3"],
    df1 = t[2, "Df"], df2 = t[2, "Res.Df"], f = t[2, "F value"], p = t[2, "Pr(>F)"]))
}
write(out, "tests.csv")
