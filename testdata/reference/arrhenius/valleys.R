# Reference for an Arrhenius fit whose sum of squares has two valleys in Ea: the
# cold conditions fall, the hot ones rise, and one batch's data do not tell which
# of the two the law is. Makes its own data from a seed, the interval of Ea and
# the bounds by a scan of Ea every 0.2 kJ/mol, with Ea held everything else
# being linear. Run in this folder: Rscript valleys.R
options(digits = 15)
R <- 8.314462618
set.seed(9)
times <- list("5" = c(0, 6, 12, 18), "25" = c(3, 6, 9, 12, 18), "30" = c(3, 6, 9, 12), "40" = c(1, 3, 6), "50" = c(1, 2, 3))
rate <- c("5" = -0.12, "25" = -0.06, "30" = -0.03, "40" = 0.2, "50" = 0.9)
d <- do.call(rbind, lapply(names(times), function(c) {
  t <- times[[c]]
  data.frame(celsius = as.numeric(c), months = t, value = round(100 + rate[[c]] * t + rnorm(length(t), 0, 0.6), 2))
}))
write.csv(d, "valleys-points.csv", row.names = FALSE, quote = FALSE)

# The straight line in relative rates times time that is left with Ea held.
inverse <- 1 / (d$celsius + 273.15) - 1 / 300
held <- function(ea, celsius = 25) {
  x <- exp(-ea * 1000 / R * (inverse - (1 / (celsius + 273.15) - 1 / 300))) * d$months
  s <- max(x) # for the digits only
  m <- lm(value ~ I(x / s), d)
  list(sse = sum(resid(m)^2), a = coef(m)[[1]], b = coef(m)[[2]] / s,
       v = chol2inv(qr.R(m$qr)) * outer(c(1, 1 / s), c(1, 1 / s)))
}
sse <- function(ea) held(ea)$sse
grid <- seq(-400, 700, 0.2)
on <- sapply(grid, sse)
k <- which.min(on)
best <- optimize(sse, grid[k + c(-1, 1)], tol = 1e-9)
df <- nrow(d) - 3
level <- function(t) best$objective * (1 + t^2 / df)
ends <- function(level) {
  inside <- which(on <= level)
  stopifnot(min(inside) > 1, max(inside) < length(grid), any(diff(inside) > 1)) # closed, and two valleys
  at <- function(i) uniroot(function(e) sse(e) - level, grid[i], tol = 1e-11)$root
  c(at(min(inside) - 1:0), at(max(inside) + 0:1))
}
# The shortest time at which a line within the allowance comes down to the limit:
# a + b·t − √(room·(v11 + 2·v12·t + v22·t²)) = limit.
meets <- function(ea, celsius, limit, level) {
  h <- held(ea, celsius)
  if (h$sse > level) return(Inf)
  room <- level - h$sse
  f <- function(t) h$a + h$b * t - limit - sqrt(room * (h$v[1, 1] + 2 * h$v[1, 2] * t + h$v[2, 2] * t^2))
  if (f(0) <= 0) return(0)
  t <- 10^seq(-2, 5, 0.05)
  below <- which(sapply(t, f) <= 0)
  if (length(below) == 0) return(Inf)
  uniroot(f, c(0, t[below[1]]), tol = 1e-12)$root
}
bound <- function(celsius, limit) {
  l <- level(qt(0.95, df))
  inside <- grid[on <= l]
  times <- sapply(inside, meets, celsius = celsius, limit = limit, level = l)
  k <- which.min(times)
  step <- function(e) meets(e, celsius, limit, l)
  min(times[k], optimize(function(e) min(step(e), 1e9), inside[k] + c(-0.2, 0.2), tol = 1e-9)$objective)
}
e <- ends(level(qt(0.975, df)))
cat(sprintf("quantity,value\nea,%.10g\nlow,%.12g\nhigh,%.12g\nresidual_sd,%.12g\nbound5,%.10g\nbound25,%.10g\n",
            best$minimum, e[1], e[2], sqrt(best$objective / df), bound(5, 95), bound(25, 95)), file = "valleys.csv")
