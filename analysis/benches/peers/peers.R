# The same work in R: peers.R ROW FOLDER REPETITIONS prints the seconds of every repetition, the
# peak memory of the process in KiB and the result. Reading the data is not timed.
suppressMessages(library(survival))

rows <- function(folder, name) read.csv(file.path(folder, paste0(name, ".csv")))

kaplan_meier <- function(folder) {
  d <- rows(folder, "follow_up")
  function() {
    fit <- survfit(Surv(days, event) ~ 1, data = d, conf.type = "log-log")
    summary(fit, times = 365)$lower
  }
}

log_rank <- function(folder) {
  d <- rows(folder, "follow_up")
  function() survdiff(Surv(days, event) ~ group, data = d)$chisq
}

rank_sum <- function(folder) {
  d <- rows(folder, "rank")
  function() unname(wilcox.test(d$first, d$second, exact = FALSE, correct = FALSE)$statistic)
}

resampled <- function(d, seed) {
  set.seed(seed)
  means <- function(v) vapply(1:10000, function(i) mean(v[sample.int(length(v), replace = TRUE)]), 0)
  exp(means(log(d$first)) - means(log(d$second)))
}

percentile <- function(folder) {
  d <- rows(folder, "bootstrap")
  function() unname(quantile(resampled(d, 1), 0.975))
}

work <- list(
  kaplan_meier = kaplan_meier, log_rank = log_rank, rank_sum = rank_sum, percentile = percentile
)

peak_kib <- function() {
  line <- grep("^VmHWM", readLines("/proc/self/status"), value = TRUE)
  gsub("[^0-9]", "", line)
}

arguments <- commandArgs(trailingOnly = TRUE)
if (arguments[1] == "rows") {
  cat(names(work), sep = "\n")
} else {
  run <- work[[arguments[1]]](arguments[2])
  seconds <- c()
  for (i in seq_len(as.integer(arguments[3]))) {
    seconds <- c(seconds, system.time(result <- run())[["elapsed"]])
    if (sum(seconds) > 30) break
  }
  cat(paste(sprintf("%.6f", seconds), collapse = ","), peak_kib(), format(result, digits = 15), "\n")
}
