# The study of the session bounds.txtar: a balm in a jar, five batches and the first
# three of them, and the bounds that it states at 25C60. Run in this folder:
# Rscript balm.R
# makes balm-five.csv and balm-three.csv from a seed and writes balm.csv. The methods are
# those of bounds.R, whose functions it takes.
source(textConnection(sub("^all <- .*$|^all\\$.*$", "", readLines("bounds.R")[seq_len(grep("^out <-", readLines("bounds.R")) - 1)])))
set.seed(25)
pulls <- list("25C60" = c(3, 6, 9, 12, 18), "40C75" = c(3, 6))
rows <- do.call(rbind, lapply(1:5, function(i) {
  start <- c(100.4 + rnorm(1, 0, 0.5), 5.62 + rnorm(1, 0, 0.04)); slope <- c(rnorm(1, -0.32, 0.03), rnorm(1, -0.006, 0.002))
  at <- function(condition, time, months, faster) data.frame(batch = paste0("B", i), condition, time,
    panthenol = sprintf("%.1f", start[1] + faster * slope[1] * months + rnorm(1, 0, 0.4)), pH = sprintf("%.2f", start[2] + faster * slope[2] * months + rnorm(1, 0, 0.02)))
  rbind(at("", "0", 0, 1), do.call(rbind, lapply(names(pulls), function(k)
    do.call(rbind, lapply(pulls[[k]], function(m) at(k, paste0(m, "M"), m, if (k == "25C60") 1 else 2.5))))))
}))
write.csv(rows, "balm-five.csv", row.names = FALSE, quote = FALSE)
write.csv(rows[rows$batch %in% c("B1", "B2", "B3"), ], "balm-three.csv", row.names = FALSE, quote = FALSE)

out <- NULL
for (of in c("three", "five")) for (attribute in c("panthenol", "pH")) for (coverage in c(0.95, 0.99)) {
  d <- read.csv(paste0("balm-", of, ".csv")); d <- d[d$condition != "40C75", ]
  d$t <- as.numeric(sub("M", "", d$time)); d$batch <- factor(d$batch); d$y <- d[[attribute]]
  x <- list(tau = identity, relative = FALSE)
  found <- if (attribute == "panthenol") bounds(x, d, 90, 1, coverage, 0.95)
    else pmin(bounds(x, d, 5, 1, 1 - (1 - coverage) / 2, 0.975), bounds(x, d, 6.2, -1, 1 - (1 - coverage) / 2, 0.975))
  out <- rbind(out, data.frame(batches = of, attribute, coverage, t(sprintf("%.8g", found))))
}
names(out)[4:7] <- c("mean", "units", "batches_mean", "batches_to_come")
write.csv(out, "balm.csv", row.names = FALSE, quote = FALSE)
