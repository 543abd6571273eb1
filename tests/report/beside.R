# Marginal standardisation with the use of echo among the covariates and without, and clustered by
# operator, by a second route: every case is a line, glm() and predict() give the risks, and CR2 takes
# the square root of the whole matrix of a cluster. Base R alone (4.2.2). Run beside beside_cells.csv,
# whose counts are invented; writes beside.csv.
cells <- read.csv("beside_cells.csv")
cases <- do.call(rbind, lapply(seq_len(nrow(cells)), function(at) {
  own <- cells[rep(at, cells$cases[at]), c("centre", "diseased", "echo", "zero")]
  own$event <- as.integer(seq_len(nrow(own)) <= cells$successes[at])
  own
}))
# Where nobody wrote down whether echo was used, the median stands, with a term of its own.
cases$unknown <- as.integer(is.na(cases$echo))
cases$echo[is.na(cases$echo)] <- median(cases$echo, na.rm = TRUE)
# Three operators of each centre take turns in the order of the lines.
cases$operator <- 10 * cases$centre + ave(seq_len(nrow(cases)), cases$centre, FUN = seq_along) %% 3

of_formula <- function(formula, cluster) {
  fit <- glm(formula, binomial, cases, control = glm.control(1e-14, 100))
  n <- nrow(cases)
  p <- fitted(fit)
  X <- model.matrix(fit)
  # vcov() holds the weights of the round before the last.
  M <- solve(crossprod(X * sqrt(p * (1 - p))))
  predicted <- lapply(c(1, 0), function(arm) {
    new <- transform(cases, zero = arm)
    list(p = predict(fit, new, type = "response"), X = model.matrix(delete.response(terms(fit)), new))
  })
  risks <- sapply(predicted, function(own) mean(own$p))
  difference <- risks[1] - risks[2]
  slope <- function(own) colMeans(own$X * own$p * (1 - own$p))
  gradient <- slope(predicted[[1]]) - slope(predicted[[2]])
  own <- (predicted[[1]]$p - predicted[[2]]$p - difference) / n

  w <- p * (1 - p)
  Z <- X * sqrt(w)
  residual <- (cases$event - p) / sqrt(w)
  H <- Z %*% M %*% t(Z)
  groups <- split(seq_len(n), cluster)
  G <- length(groups)
  B <- lapply(groups, function(at) {
    parts <- eigen(diag(length(at)) - H[at, at], symmetric = TRUE)
    root <- ifelse(parts$values > 1e-9, 1 / sqrt(pmax(parts$values, 1e-300)), 0)
    drop(parts$vectors %*% (root * crossprod(parts$vectors, Z[at, ] %*% M %*% gradient)))
  })
  score <- mapply(function(b, at) sum(b * residual[at]), B, groups)
  sampled <- sapply(groups, function(at) sum(own[at])) * sqrt(G / (G - 1))
  variance <- sum((score + sampled)^2)
  P <- outer(seq_len(G), seq_len(G), Vectorize(function(g, h) {
    covariance <- (if (g == h) diag(length(groups[[g]])) else 0) - H[groups[[g]], groups[[h]]]
    drop(B[[g]] %*% covariance %*% B[[h]])
  }))
  Q <- P + sum(sampled^2) / (G - 1) * (diag(G) - 1 / G)
  df <- sum(diag(Q))^2 / sum(Q^2)
  half <- qt(0.975, df) * sqrt(variance)
  c(risk_zero_fluoroscopy = risks[1], risk_conventional = risks[2], estimate = difference,
    lower = difference - half, upper = difference + half, degrees_of_freedom = df)
}
with <- of_formula(event ~ factor(centre) + diseased + echo + unknown + zero, cases$centre)
without <- of_formula(event ~ factor(centre) + diseased + zero, cases$centre)
by_operator <- of_formula(event ~ factor(centre) + diseased + zero, cases$operator)
found <- list(echo_alike = with, total = without, by_operator = by_operator)
out <- data.frame(model = rep(names(found), lengths(found)), quantity = unlist(lapply(found, names)),
                  value = sprintf("%.17g", unlist(found)))
write.csv(out, "beside.csv", row.names = FALSE, quote = FALSE)
