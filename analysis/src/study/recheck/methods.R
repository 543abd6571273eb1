# The methods of the planned comparison, in base R. Arm 1 is zero-fluoroscopy, arm 0 conventional;
# differences are the first less the second.

# ---- Looks ----

# Places and weights of Gauss and Legendre from the eigenvalues of Jacobi's matrix.
gauss <- function(n) {
  k <- 1:(n - 1)
  J <- matrix(0, n, n)
  J[cbind(k, k + 1)] <- J[cbind(k + 1, k)] <- k / sqrt(4 * k^2 - 1)
  found <- eigen(J, symmetric = TRUE)
  list(place = found$values, weight = 2 * found$vectors[1, ]^2)
}

# The nominal one-sided level of the last look: each look stops upward, so that all looks up to it
# spend what is given. The sum of the information moves as a Brownian motion.
nominal_level <- function(information, spent) {
  spends <- diff(c(0, spent)) > 0
  t <- information[spends] / information[length(information)]
  own <- diff(c(0, spent[spends]))
  rule <- gauss(400)
  place <- 0
  mass <- 1
  before <- 0
  for (look in seq_along(t)) {
    step <- sqrt(t[look] - before)
    exit <- function(z) sum(mass * pnorm((z * sqrt(t[look]) - place) / step, lower.tail = FALSE))
    z <- uniroot(function(z) log(exit(z) / own[look]), c(-5, 9), tol = 1e-13)$root
    low <- -12 * sqrt(t[look])
    half <- (z * sqrt(t[look]) - low) / 2
    new <- low + half * (1 + rule$place)
    mass <- half * rule$weight * vapply(new, function(b) sum(mass * dnorm((b - place) / step)) / step, 0)
    place <- new
    before <- t[look]
  }
  pnorm(z, lower.tail = FALSE)
}

# ---- Two proportions ----

# The conventional proportion that fits best if the difference is delta: the root of the
# likelihood's derivative, which falls all the way.
restricted <- function(x1, n1, x0, n0, delta) {
  slope <- function(p) {
    of <- function(x, n, q) (if (x > 0) x / q else 0) - (if (x < n) (n - x) / (1 - q) else 0)
    of(x1, n1, p + delta) + of(x0, n0, p)
  }
  low <- max(0, -delta)
  high <- min(1, 1 - delta)
  for (round in 1:200) {
    middle <- (low + high) / 2
    if (middle == low || middle == high) break
    if (slope(middle) > 0) low <- middle else high <- middle
  }
  (low + high) / 2
}

# Miettinen and Nurminen's variance of the difference under delta, with the factor N / (N - 1).
restricted_variance <- function(x1, n1, x0, n0, delta) {
  p0 <- restricted(x1, n1, x0, n0, delta)
  p1 <- min(1, max(0, p0 + delta))
  (p1 * (1 - p1) / n1 + p0 * (1 - p0) / n0) * (n1 + n0) / (n1 + n0 - 1)
}

# Score limits over strata with the weights of Mantel and Haenszel; one stratum is the crude
# difference. Strata with an empty arm have no weight.
score_limits <- function(x1, n1, x0, n0, level) {
  keep <- n1 > 0 & n0 > 0
  # As numbers: products of whole numbers overflow in R beyond 46,340 cases an arm.
  x1 <- as.numeric(x1[keep]); n1 <- as.numeric(n1[keep])
  x0 <- as.numeric(x0[keep]); n0 <- as.numeric(n0[keep])
  weight <- n1 * n0 / (n1 + n0)
  weight <- weight / sum(weight)
  found <- sum(weight * (x1 / n1 - x0 / n0))
  normal <- qnorm((1 + level) / 2)
  beyond <- function(delta) {
    variance <- mapply(restricted_variance, x1, n1, x0, n0, MoreArgs = list(delta = delta))
    spread <- sqrt(sum(weight^2 * variance))
    if (spread == 0) return(if (delta == found) -normal else Inf)
    abs(found - delta) / spread - normal
  }
  limit <- function(end) {
    if (abs(end - found) < 1e-14) return(end)
    near <- found + (end - found) * 1e-9
    far <- end + (found - end) * 1e-12
    if (beyond(far) < 0) return(end)
    uniroot(beyond, sort(c(near, far)), tol = 1e-13)$root
  }
  c(estimate = found, lower = limit(-1), upper = limit(1))
}

# The same for the ratio of two proportions. The conventional proportion that fits best if the ratio
# is phi is again the root of the likelihood's derivative; the limits are sought on logarithms.
ratio_score_limits <- function(x1, n1, x0, n0, level) {
  normal <- qnorm((1 + level) / 2)
  restricted <- function(phi) {
    slope <- function(p) {
      (x1 + x0) / p - (if (x1 < n1) phi * (n1 - x1) / (1 - phi * p) else 0) -
        (if (x0 < n0) (n0 - x0) / (1 - p) else 0)
    }
    low <- 0
    high <- min(1, 1 / phi)
    for (round in 1:200) {
      middle <- (low + high) / 2
      if (middle == low || middle == high) break
      if (slope(middle) > 0) low <- middle else high <- middle
    }
    (low + high) / 2
  }
  beyond <- function(log_phi) {
    phi <- exp(log_phi)
    p0 <- restricted(phi)
    p1 <- min(1, phi * p0)
    variance <- (p1 * (1 - p1) / n1 + phi^2 * p0 * (1 - p0) / n0) * (n1 + n0) / (n1 + n0 - 1)
    abs(x1 / n1 - phi * x0 / n0) / sqrt(variance) - normal
  }
  centre <- log((x1 + 0.5) / (x0 + 0.5) * n0 / n1)
  found <- if (x1 > 0 && x0 > 0) log(x1 / n1 / (x0 / n0)) else centre
  limit <- function(way) {
    far <- found + way
    while (beyond(far) < 0) far <- far + way
    exp(uniroot(beyond, sort(c(found, far)), tol = 1e-13)$root)
  }
  c(ratio = if (x0 > 0) x1 / n1 / (x0 / n0),
    ratio_lower = if (x1 > 0) limit(-1) else 0,
    ratio_upper = if (x0 > 0) limit(1))
}

# The ratio within strata by Mantel and Haenszel, with the variance of Greenland and Robins.
common_ratio <- function(x1, n1, x0, n0, level) {
  keep <- n1 > 0 & n0 > 0
  x1 <- as.numeric(x1[keep]); n1 <- as.numeric(n1[keep])
  x0 <- as.numeric(x0[keep]); n0 <- as.numeric(n0[keep])
  n <- n1 + n0
  above <- sum(x1 * n0 / n)
  below <- sum(x0 * n1 / n)
  variance <- sum((n1 * n0 * (x1 + x0) - x1 * x0 * n) / n^2) / (above * below)
  exponentiated(limits(log(above / below), variance, NULL, level))
}

# Newcombe's method 10 from Wilson's limits, which prop.test gives.
newcombe <- function(x1, n1, x0, n0, level) {
  wilson <- function(x, n) suppressWarnings(prop.test(x, n, conf.level = level, correct = FALSE)$conf.int)
  a <- wilson(x1, n1); b <- wilson(x0, n0)
  p1 <- x1 / n1; p0 <- x0 / n0
  c(estimate = p1 - p0,
    lower = p1 - p0 - sqrt((p1 - a[1])^2 + (b[2] - p0)^2),
    upper = p1 - p0 + sqrt((a[2] - p1)^2 + (p0 - b[1])^2))
}

# ---- The models' columns ----

covariates <- function(table) setdiff(names(table), c("centre", "arm", "event", "cases"))

# Groups in which nobody, or everybody, had the event leave the outcome model: their risk is 0 or
# 1 in either arm, and taking one out may settle another.
settle <- function(table) {
  marks <- Filter(function(term) all(table[[term]] %in% c(0, 1)), covariates(table))
  open <- table
  alike <- function(some) length(unique(some$event)) < 2
  repeat {
    if (alike(open)) break
    groups <- lapply(sort(unique(open$centre)), function(centre) open$centre == centre)
    groups <- c(groups, lapply(marks, function(term) open[[term]] == 1))
    settled <- Find(function(own) any(own) && !all(own) && alike(open[own, ]), groups)
    if (is.null(settled)) break
    open <- open[!settled, ]
  }
  cases <- sum(table$cases) - sum(open$cases)
  list(open = open, cases = cases, events = sum(table$cases * table$event) - sum(open$cases * open$event))
}

# Intercept, centres and covariates that vary.
columns <- function(table) {
  centres <- sort(unique(table$centre))[-1]
  of_centre <- if (length(centres)) outer(table$centre, centres, "==") * 1 else NULL
  varying <- Filter(function(term) length(unique(table[[term]])) > 1, covariates(table))
  unname(cbind(rep(1, nrow(table)), of_centre, as.matrix(table[varying])))
}

# glm() on patterns as weighted lines; the columns hold the intercept.
logistic <- function(X, outcome, cases) {
  fit <- suppressWarnings(
    glm(outcome ~ 0 + X, family = binomial(), weights = cases, control = glm.control(1e-14, 200)))
  coefficients <- unname(coef(fit))
  list(coefficients = coefficients, fitted = unname(fitted(fit)))
}

limits <- function(estimate, variance, df, level) {
  quantile <- if (is.null(df)) qnorm((1 + level) / 2) else qt((1 + level) / 2, df)
  half <- quantile * sqrt(variance)
  c(estimate = estimate, lower = estimate - half, upper = estimate + half)
}

# Limits of a logarithm as those of a ratio.
exponentiated <- function(found) setNames(exp(found[1:3]), c("ratio", "ratio_lower", "ratio_upper"))

# ---- Marginal standardisation ----

# Differences of the risks, and ratios of what nobody wants: of the absence of success, of harm.
standardised <- function(table, level, benefit) {
  settled <- settle(table)
  open <- settled$open
  X <- cbind(columns(open), open$arm)
  m <- open$cases
  n <- sum(m)
  fit <- logistic(X, open$event, m)
  p <- fit$fitted
  either <- lapply(c(1, 0), function(arm) {
    own <- X
    own[, ncol(X)] <- arm
    q <- plogis(drop(own %*% fit$coefficients))
    list(q = q, risk = sum(m * q) / n, gradient = colSums(m * q * (1 - q) * own) / n)
  })
  # The derivative of a contrast by the coefficients, and what each case adds because the cases are
  # a sample themselves, for its weights of the two risks.
  contrast <- function(weights) {
    deviation <- function(arm) (arm$q - arm$risk) / n
    list(gradient = weights[1] * either[[1]]$gradient + weights[2] * either[[2]]$gradient,
         sampled = weights[1] * deviation(either[[1]]) + weights[2] * deviation(either[[2]]))
  }
  M <- solve(crossprod(X * (m * p * (1 - p)), X))
  share <- n / (n + settled$cases)
  risk <- function(r) (n * r + settled$events) / (n + settled$cases)
  risks <- c(risk_zero_fluoroscopy = risk(either[[1]]$risk), risk_conventional = risk(either[[2]]$risk))
  # These centres only: the squares of the influences of the cases.
  these_centres <- function(estimate, of) {
    influence <- of$sampled + drop(X %*% (M %*% of$gradient)) * (open$event - p)
    limits(estimate, sum(m * influence^2), NULL, level)
  }
  clustered <- function(estimate, of) {
    found <- bell_mccaffrey(X, p, open, M, of$gradient, of$sampled)
    c(limits(estimate, found$variance, found$df, level), degrees_of_freedom = found$df)
  }
  difference <- either[[1]]$risk - either[[2]]$risk
  apart <- contrast(c(1, -1))
  # Settled cases count in both arms alike.
  unwanted <- function(r) if (benefit) 1 - r else r
  beside <- if (benefit) settled$cases - settled$events else settled$events
  both <- unwanted(c(either[[1]]$risk, either[[2]]$risk)) + beside / n
  log_ratio <- log(both[1] / both[2])
  relative <- contrast((if (benefit) -1 else 1) * c(1, -1) / both)
  found <- clustered(difference, apart)
  list(standardised = c(risks, found[1:3] * share, found["degrees_of_freedom"],
                        exponentiated(clustered(log_ratio, relative))),
       these_centres = c(risks, these_centres(difference, apart) * share,
                         exponentiated(these_centres(log_ratio, relative))))
}

# CR2 with Satterthwaite's degrees of freedom. The root of I - H is the symmetric one of the whole
# block of a centre on the weighted scale, by singular values; a pattern of m cases alike is one
# line with the weight m, because within a pattern H does nothing but to the mean. Directions that
# a centre determines alone are left out.
bell_mccaffrey <- function(X, p, open, M, gradient, sampled) {
  m <- open$cases
  Z <- X * sqrt(m * p * (1 - p))
  pearson <- sqrt(m) * (open$event - p) / sqrt(p * (1 - p))
  root <- t(chol(M))
  centres <- sort(unique(open$centre))
  G <- length(centres)
  parts <- lapply(centres, function(centre) {
    own <- open$centre == centre
    Zg <- Z[own, , drop = FALSE]
    leverage <- svd(Zg %*% root)
    lambda <- pmin(leverage$d^2, 1)
    factor <- ifelse(lambda < 1 - 1e-9, 1 / sqrt(1 - lambda), 0)
    adjust <- function(v) v + drop(leverage$u %*% ((factor - 1) * crossprod(leverage$u, v)))
    B <- adjust(drop(Zg %*% (M %*% gradient)))
    list(score = sum(B * pearson[own]), BB = sum(B^2), ZB = drop(crossprod(Zg, B)),
         sampled = sum(m[own] * sampled[own]))
  })
  of <- function(name) sapply(parts, `[[`, name)
  ZB <- of("ZB")
  P <- diag(of("BB"), G) - t(ZB) %*% M %*% ZB
  own <- of("sampled") * sqrt(G / (G - 1))
  Q <- P + sum(own^2) / (G - 1) * (diag(G) - 1 / G)
  list(variance = sum((of("score") + own)^2), df = sum(diag(Q))^2 / sum(Q^2))
}

# ---- Overlap weights ----

# Hajek's risks with overlap weights, the equations of propensity and risks stacked. CR2: the sum
# of a centre scaled so that it is unbiased if cases are independent with the second moments that
# they show.
overlap_weighted <- function(table, level, benefit) {
  X <- columns(table)
  m <- table$cases
  t <- table$arm
  y <- table$event
  e <- logistic(X, t, m)$fitted
  weight <- ifelse(t == 1, 1 - e, e)
  total <- c(sum((m * weight)[t == 1]), sum((m * weight)[t == 0]))
  weight <- ifelse(t == 1, weight / total[1], weight / total[2])
  risk <- c(sum((m * weight * y)[t == 1]), sum((m * weight * y)[t == 0]))
  apart <- cbind(t * weight * (y - risk[1]), (1 - t) * weight * (y - risk[2]))
  psi <- cbind(X * (t - e), apart)
  slope <- e * (1 - e) * cbind(-t * (y - risk[1]) / total[1], (1 - t) * (y - risk[2]) / total[2])
  k <- ncol(X)
  # The derivative of the equations, turned round, over some of the lines.
  derivative <- function(own) {
    D <- matrix(0, k + 2, k + 2)
    D[1:k, 1:k] <- crossprod(X[own, , drop = FALSE] * (m * e * (1 - e))[own], X[own, , drop = FALSE])
    D[k + 1:2, 1:k] <- -crossprod(slope[own, , drop = FALSE] * m[own], X[own, , drop = FALSE])
    D[k + 1, k + 1] <- sum((m * weight * t)[own])
    D[k + 2, k + 2] <- sum((m * weight * (1 - t))[own])
    D
  }
  inverse <- solve(derivative(rep(TRUE, nrow(table))), tol = 1e-20)
  centres <- sort(unique(table$centre))
  omega <- crossprod(psi * m, psi)
  lines <- lapply(centres, function(centre) table$centre == centre)
  # An effect with its weights of the two risks.
  effect <- function(estimate, weights) {
    rho <- c(rep(0, k), weights) %*% inverse
    influence <- drop(psi %*% t(rho))
    sums <- sapply(lines, function(own) sum((m * influence)[own]))
    v <- sapply(lines, function(own) sum((m * influence^2)[own]))
    crossed <- sapply(lines, function(own) colSums((m * influence * psi)[own, , drop = FALSE]))
    taken <- sapply(lines, function(own) drop(rho %*% derivative(own) %*% inverse))
    # What is left of the sums once the estimation took its part.
    left <- diag(v, length(v)) - crossprod(crossed, taken) - crossprod(taken, crossed) +
      t(taken) %*% omega %*% taken
    a <- diag(left)
    scale <- ifelse(a > 1e-10 * v, sqrt(v / a), 0)
    P <- left * outer(scale, scale)
    df <- sum(diag(P))^2 / sum(P^2)
    c(limits(estimate, sum((scale * sums)^2), df, level), degrees_of_freedom = df)
  }
  both <- if (benefit) 1 - risk else risk
  relative <- (if (benefit) -1 else 1) * c(1, -1) / both
  c(risk_zero_fluoroscopy = risk[1], risk_conventional = risk[2], effect(risk[1] - risk[2], c(1, -1)),
    exponentiated(effect(log(both[1] / both[2]), relative)))
}
