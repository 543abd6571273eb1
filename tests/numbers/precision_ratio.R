# Average reach of the score intervals of a ratio, every table counted: writes precision_ratio.csv.
# Base R alone. A limit is where Koopman's chi-square, a sum over both arms, meets that of the
# level, times (N-1)/N for Miettinen and Nurminen; the proportions of a ratio are those at which the
# likelihood stops rising. Both are bisected. Large groups are counted over the range that holds all
# but 1e-16 of the probability at each end.

# Where a falling function of numbers between two ends is 0.
bisect <- function(falling, low, high, times) {
  for (i in seq_len(times)) {
    middle <- (low + high) / 2
    positive <- falling(middle) > 0
    low <- ifelse(positive, middle, low)
    high <- ifelse(positive, high, middle)
  }
  (low + high) / 2
}

arm <- function(x, n, p) ifelse(x == n, n * (1 - p) / p, (x - n * p)^2 / (n * p * (1 - p)))

# The second proportion that is most likely where the first is so many times as much.
most_likely <- function(x1, n1, x2, n2, ratio) {
  part <- function(x, n, p) x / p - ifelse(x == n, 0, (n - x) / (1 - p))
  slope <- function(p) ratio * part(x1, n1, ratio * p) + part(x2, n2, p)
  bisect(slope, 0 * ratio, pmin(1, 1 / ratio), 64)
}

upper_limit <- function(x1, n1, x2, n2, chi_square) {
  beyond <- function(log_ratio) {
    ratio <- exp(log_ratio)
    p <- most_likely(x1, n1, x2, n2, ratio)
    chi_square - arm(x1, n1, pmin(1, ratio * p)) - arm(x2, n2, p)
  }
  estimate <- log(x1 / n1) - log(x2 / n2)
  bisect(beyond, estimate, estimate + 20, 64)
}

average <- function(method, n1, n2, p1, p2, level) {
  counts <- function(n, p) max(qbinom(1e-16, n, p), 1):qbinom(1e-16, n, p, lower.tail = FALSE)
  tables <- expand.grid(x1 = counts(n1, p1), x2 = counts(n2, p2))
  chi_square <- qchisq(level, 1)
  if (method == "miettinen_nurminen") chi_square <- chi_square * (n1 + n2) / (n1 + n2 - 1)
  upper <- with(tables, upper_limit(x1, n1, x2, n2, chi_square))
  lower <- with(tables, -upper_limit(x2, n2, x1, n1, chi_square))
  with(tables, sum(dbinom(x1, n1, p1) * dbinom(x2, n2, p2) * (upper - lower) / 2)) /
    ((1 - dbinom(0, n1, p1)) * (1 - dbinom(0, n2, p2)))
}

one_of <- function(n1, n2, p1, p2, level) data.frame(n1, n2, p1, p2, level)
all <- rbind(
  one_of(8, 16, 0.4, 0.3, 0.95), one_of(50, 50, 0.02, 0.05, 0.95), one_of(30, 10, 0.9, 0.95, 0.9),
  one_of(200, 200, 0.05, 0.05, 0.95), one_of(400, 800, 0.01, 0.015, 0.99), one_of(900, 900, 0.05, 0.05, 0.95),
  one_of(1500, 1500, 0.06, 0.05, 0.95), one_of(2500, 1000, 0.08, 0.1, 0.9), one_of(40000, 20000, 0.001, 0.001, 0.95)
)
out <- NULL
for (method in c("koopman", "miettinen_nurminen")) {
  for (i in seq_len(nrow(all))) {
    factor <- exp(do.call(average, c(list(method), as.list(all[i, ]))))
    none <- with(all[i, ], dbinom(0, c(n1, n2), c(p1, p2)))
    out <- rbind(out, data.frame(method, all[i, ], factor = sprintf("%.17g", factor),
                                 unbounded = sprintf("%.17g", sum(none) - prod(none))))
  }
}
write.csv(out, "precision_ratio.csv", row.names = FALSE, quote = FALSE)
