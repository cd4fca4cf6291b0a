# Reference for what is said of the results of a whole study: rstudent of lm,
# predict without the pull in question, anova of the lines against a factor of the
# pulls, shapiro.test of rstandard, Koenker's statistic by an lm of the squares, the
# quadratic term by summary, hatvalues of the lines in use, and the broken lines of a
# turn by lm at every break. Reads the study played in
# cmd/shelfspan/testdata/diagnostics.txtar. Run in this folder: Rscript diagnostics.R
text <- readLines("../../../cmd/shelfspan/testdata/diagnostics.txtar")
from <- which(text == "-- results.csv --")
to <- grep("^-- ", text)
all <- read.csv(text = text[(from + 1):(min(to[to > from]) - 1)])
all$t <- as.numeric(sub("M", "", all$time)) # no day of a pull is given: the planned months count
out <- data.frame(case = character(), name = character(), value = numeric())
say <- function(case, name, value) out[nrow(out) + 1, ] <<- list(case, name, value)

for (arm in list(c("viscosity", "25C60"), c("assay", "25C60"), c("yield-stress", "25C60"))) {
  case <- arm[1]
  d <- all[all$attribute == arm[1] & all$condition %in% c("", arm[2]), ]
  back <- if (case == "viscosity") exp else identity
  d$y <- if (case == "viscosity") log(d$value) else d$value
  d$b <- factor(d$batch)
  lines <- lm(y ~ 0 + b + b:t, d)
  e <- residuals(lines)
  say(case, "n", nrow(d))
  say(case, "df", lines$df.residual)
  say(case, "residual_sd", sigma(lines))
  # Outlier.
  r <- rstudent(lines)
  i <- which.max(abs(r))
  say(case, "outlier row", i)
  say(case, "studentized", r[[i]])
  say(case, "outlier p", min(1, nrow(d) * 2 * pt(-abs(r[[i]]), lines$df.residual - 1)))
  without <- lm(y ~ 0 + b + b:t, d[-i, ])
  p <- predict(without, d[i, ], interval = "prediction", level = 0.99)
  say(case, "outlier expected", back(p[1]))
  say(case, "outlier lower_99", back(p[2]))
  say(case, "outlier upper_99", back(p[3]))
  # The latest pull of each batch, the mean of its results.
  for (k in levels(d$b)) {
    pull <- d$batch == k & d$time == "18M"
    rest <- lm(y ~ 0 + b + b:t, d[!pull, ])
    at <- d[pull, ][1, ]
    s <- predict(rest, at, se.fit = TRUE)
    se <- sqrt(sigma(rest)^2 / sum(pull) + s$se.fit^2)
    df <- rest$df.residual
    y <- mean(d$y[pull])
    say(case, paste("own p", k), 2 * pt(-abs(y - s$fit) / se, df))
    say(case, paste("own expected", k), back(s$fit))
    for (level in c(95, 99)) {
      half <- qt(1 - (1 - level / 100) / 2, df) * se
      say(case, paste0("own lower_", level, " ", k), back(s$fit - half))
      say(case, paste0("own upper_", level, " ", k), back(s$fit + half))
    }
  }
  last <- tapply(d$y[d$time == "18M"], d$b[d$time == "18M"], mean)
  p <- predict(lm(v ~ 1, data.frame(v = last[1:2])), data.frame(v = 0), interval = "prediction", level = 0.99)
  say(case, "earlier expected F3", back(p[1]))
  say(case, "earlier lower_99 F3", back(p[2]))
  say(case, "earlier p F3", 2 * pt(-abs(last[[3]] - mean(last[1:2])) / (sd(last[1:2]) * sqrt(1.5)), 1))
  # The scatter.
  if (case == "viscosity") {
    a <- anova(lines, lm(y ~ factor(paste(batch, time)), d))
    say(case, "lack F", a$F[2])
    say(case, "lack p", a$`Pr(>F)`[2])
  }
  w <- shapiro.test(rstandard(lines))
  say(case, "w", w$statistic[[1]])
  say(case, "normality p", w$p.value)
  squares <- lm(I(e^2) ~ t, d)
  say(case, "koenker", nrow(d) * summary(squares)$r.squared)
  say(case, "spread p", pchisq(nrow(d) * summary(squares)$r.squared, 1, lower.tail = FALSE))
  q <- summary(lm(y ~ 0 + b + b:t + I(t^2), d))$coefficients["I(t^2)", ]
  say(case, "bend_t", q[[3]])
  say(case, "bend p", q[[4]])
  # The lines in use: separate for the viscosity, pooled for the others.
  used <- if (case == "viscosity") lines else lm(y ~ t, d)
  say(case, "leverage", max(tapply(hatvalues(used), paste(d$batch, d$time), sum)))
}
# A turn of the yield stress: the best broken line against the best that does not
# rise and then fall, at the times and eight steps between each two.
times <- sort(unique(d$t))
inner <- times[2:(length(times) - 1)]
knots <- sort(unique(c(inner, unlist(lapply(seq_len(length(inner) - 1), function(i) inner[i] + diff(inner)[i] * (0:7) / 8)))))
best <- list(rss = Inf)
other <- Inf
for (k in knots) {
  d$before <- pmin(d$t, k) - k
  d$after <- pmax(d$t, k) - k
  m <- lm(y ~ 0 + b + before + after, d)
  s <- coef(m)[c("before", "after")]
  rss <- deviance(m)
  if (rss < best$rss) best <- list(rss = rss, at = k, s = s)
  if (s[1] > 0 && s[2] < 0) rss <- min(deviance(lm(y ~ 0 + b + before, d)), deviance(lm(y ~ 0 + b + after, d)))
  other <- min(other, rss)
}
df <- nrow(d) - 3 - 3
f <- (other - best$rss) / (best$rss / df)
stopifnot(best$s[1] > 0, best$s[2] < 0)
say("yield-stress", "turns_at_months", best$at)
say("yield-stress", "turn_f", f)
say("yield-stress", "turn p", min(1, 2 * pf(f, 1, df, lower.tail = FALSE)))
out$value <- sprintf("%.12g", out$value)
write.csv(out, "answers.csv", row.names = FALSE, quote = FALSE)
