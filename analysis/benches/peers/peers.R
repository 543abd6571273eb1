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

regression <- function(folder) {
  file <- file.path(folder, "regression.bin")
  table <- matrix(readBin(file, "double", file.size(file) / 8, endian = "little"), ncol = 12)
  d <- as.data.frame(table[, -2])
  names(d) <- c("y", "t", paste0("x", 1:9))
  list(d = d, centre = table[, 2])
}

clustered <- function(r) {
  fit <- glm(y ~ ., data = r$d, family = binomial)
  list(fit = fit, v = sandwich::vcovCL(fit, cluster = r$centre, type = "HC1"))
}

logistic <- function(folder) {
  r <- regression(folder)
  function() sqrt(clustered(r)$v[2, 2])
}

standardised <- function(folder) {
  r <- regression(folder)
  function() {
    found <- clustered(r)
    x <- model.matrix(found$fit)
    mean_gradient <- function(arm) {
      x[, 2] <- arm
      p <- plogis(drop(x %*% coef(found$fit)))
      drop(crossprod(x, p * (1 - p))) / length(p)
    }
    g <- mean_gradient(1) - mean_gradient(0)
    sqrt(drop(g %*% found$v %*% g))
  }
}

random_intercept <- function(folder) {
  d <- rows(folder, "centres")
  d$centre <- factor(seq_len(nrow(d)))
  function() {
    fit <- lme4::glmer(cbind(x, n - x) ~ 1 + (1 | centre), data = d, family = binomial, nAGQ = 21)
    lme4::VarCorr(fit)$centre[1, 1]
  }
}

work <- list(
  random_intercept = random_intercept,
  logistic = logistic, standardised = standardised,
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
