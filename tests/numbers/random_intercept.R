# Writes random_intercept_counts.csv and random_intercept_edges.csv: random-intercept logistic
# fits by lme4 where the spread between centres is nothing, nearly nothing, or large.
# Run as: Rscript random_intercept.R
suppressMessages(library(lme4))

# Strict, because the optimiser's own defaults stop where the fourth digit of a small
# variance is still moving.
strict <- glmerControl(optimizer = "bobyqa", tolPwrss = 1e-10,
                       optCtrl = list(rhobeg = 0.02, rhoend = 1e-10, maxfun = 1e5))

fit <- function(x, n) {
  centres <- data.frame(x = x, y = n - x, centre = factor(seq_along(x)))
  model <- suppressWarnings(suppressMessages(
    glmer(cbind(x, y) ~ 1 + (1 | centre), family = binomial, data = centres, nAGQ = 25,
          control = strict)))
  spread <- getME(model, "theta")[[1]]
  beta <- fixef(model)[[1]]
  marginal <- integrate(function(u) plogis(beta + spread * u) * dnorm(u), -Inf, Inf,
                        rel.tol = 1e-12, subdivisions = 1000)$value
  c(log_odds = beta, se = sqrt(vcov(model)[1, 1]), tau_squared = spread^2, marginal = marginal)
}

draw <- function(seed, k, log_odds, spread, smallest, largest) {
  set.seed(seed)
  n <- sample(smallest:largest, k, replace = TRUE)
  list(x = rbinom(k, n, plogis(log_odds + spread * rnorm(k))), n = n)
}

# Seeds are searched until the fitted variance falls into the wanted range.
wanted <- list(
  none_7 = list(7, -3, 0, 50, 400, c(0, 0)),
  none_40_rare = list(40, -5, 0, 50, 400, c(0, 0)),
  hair_20 = list(20, -2, 0.02, 100, 900, c(1e-7, 1e-4)),
  hair_60 = list(60, 1, 0.02, 100, 900, c(1e-7, 1e-4)),
  small_7 = list(7, -3, 0.1, 50, 900, c(1e-4, 2e-3)),
  small_30 = list(30, -1, 0.05, 50, 900, c(1e-4, 2e-3)),
  small_100_rare = list(100, -5, 0.1, 50, 900, c(1e-3, 2e-2)),
  modest_7 = list(7, 2.5, 0.2, 50, 900, c(1e-2, 5e-2)),
  many_500 = list(500, -3, 0.5, 5, 60, c(0.05, 1)),
  large_12 = list(12, -2, 2, 10, 300, c(3, 9)),
  large_rare_15 = list(15, -6, 2, 50, 900, c(2, 9)),
  tiny_centres_80 = list(80, 0, 1, 1, 4, c(0.2, 3))
)

counts <- results <- NULL
for (name in names(wanted)) {
  w <- wanted[[name]]
  for (seed in 1:400) {
    set <- draw(seed, w[[1]], w[[2]], w[[3]], w[[4]], w[[5]])
    # Now and then the inner loop of lme4 does not reach so strict a tolerance: the next seed.
    got <- tryCatch(fit(set$x, set$n), error = function(e) c(tau_squared = -1))
    if (got["tau_squared"] >= w[[6]][1] && got["tau_squared"] <= w[[6]][2]) break
  }
  stopifnot(seed < 400)
  counts <- rbind(counts, data.frame(set_id = name, centre = seq_along(set$x), x = set$x, n = set$n))
  results <- rbind(results, data.frame(set_id = name, t(sprintf("%.17g", got))))
}
names(results) <- c("set_id", "log_odds", "se", "tau_squared", "marginal")
write.csv(counts, "random_intercept_counts.csv", row.names = FALSE, quote = FALSE)
write.csv(results, "random_intercept_edges.csv", row.names = FALSE, quote = FALSE)
