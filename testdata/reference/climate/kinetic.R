# Mean kinetic temperature and time outside limits of made-up histories, worked
# out plainly in R from the formula of ICH Q1A(R2) and from straight lines between
# the readings. Run in this folder: Rscript kinetic.R
#
# readings.csv: case, milli (since the first reading), celsius
# kinetic.csv:  case, quantity, value
R <- 8.314462618
set.seed(4)
readings <- NULL
out <- NULL
say <- function(case, quantity, value)
  out <<- rbind(out, data.frame(case = case, quantity = quantity, value = sprintf("%.15g", value)))

judge <- function(case, milli, celsius, upper, lower, gap, kj = 83.144) {
  readings <<- rbind(readings, data.frame(case = case, milli = sprintf("%.0f", milli), celsius = sprintf("%.2f", celsius)))
  celsius <- as.numeric(sprintf("%.2f", celsius))
  n <- length(milli)
  dt <- diff(milli)
  open <- dt > gap                       # left out
  dt[open] <- 0
  w <- c(dt, 0) / 2 + c(0, dt) / 2
  theta <- kj * 1000 / R
  say(case, "mkt", theta / -log(sum(w * exp(-theta / (celsius + 273.15))) / sum(w)) - 273.15)
  say(case, "mean", sum(w * celsius) / sum(w))
  say(case, "hours", sum(w) / 3.6e6)
  say(case, "gaps", sum(open))
  side <- function(v, name) {            # v > 0 is outside
    time <- 0; count <- 0; inside <- TRUE; lengths <- NULL; current <- 0
    for (i in seq_len(n)) {
      if (i > 1 && !open[i - 1]) {
        a <- v[i - 1]; b <- v[i]
        part <- if (a > 0 && b > 0) 1 else if (a <= 0 && b <= 0) 0 else max(a, b) / abs(b - a)
        time <- time + part * dt[i - 1]
        current <- current + part * dt[i - 1]
        if (a > 0 && b <= 0) { lengths <- c(lengths, current); current <- 0; count <- count + 1 }
      }
      last <- i == n || open[i]
      if (last && v[i] > 0) { lengths <- c(lengths, current); current <- 0; count <- count + 1 }
    }
    say(case, paste0(name, "_hours"), time / 3.6e6)
    say(case, paste0(name, "_count"), count)
    say(case, paste0(name, "_longest"), max(c(0, lengths)) / 3.6e6)
  }
  side(celsius - upper, "above")
  side(lower - celsius, "below")
}

# A room with a daily swing, a reading every 15 minutes for 30 days.
t <- seq(0, 30 * 86400e3, by = 900e3)
judge("room", t, 22 + 4 * sin(2 * pi * t / 86400e3) + rnorm(length(t), 0, 0.3), 25, 19, 3600e3 * 24)
# A lane: irregular steps, hot hours, and four gaps of a day.
step <- round(rexp(1000, 1 / 600e3)) + 1
step[c(100, 400, 401, 800)] <- 86400e3
t <- c(0, cumsum(step))
x <- 18 + cumsum(rnorm(length(t), 0, 0.8))
judge("lane", t, pmin(pmax(x, -20), 55), 25, 10, 6 * 3600e3)
# A freezer and another energy.
t <- seq(0, 2 * 86400e3, by = 60e3)
judge("freezer", t, -20 + 2 * sin(2 * pi * t / 7200e3) + ifelse(t %% 86400e3 < 1800e3, 9, 0), -15, -25, 3600e3, kj = 120.5)

write.csv(readings, "readings.csv", row.names = FALSE, quote = FALSE)
write.csv(out, "kinetic.csv", row.names = FALSE, quote = FALSE)
