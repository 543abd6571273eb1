# HC2 of a logistic regression: CR2 in which every case is its own cluster.
# Run beside covariates.csv; writes hc2.csv. Needs sandwich.
all <- read.csv("covariates.csv")
out <- NULL
for (set in c("lalonde", "reg_a", "reg_small")) {
  fit <- glm(y ~ t + x1 + x2 + x3 + x4 + x5 + x6, binomial, all[all$set_id == set, ],
             control = glm.control(epsilon = 1e-14, maxit = 60))
  se <- sqrt(diag(sandwich::vcovHC(fit, type = "HC2")))
  names(se)[1] <- "intercept"
  out <- rbind(out, data.frame(set_id = set, term = names(se), se_hc2 = sprintf("%.17g", se)))
}
write.csv(out, "hc2.csv", row.names = FALSE, quote = FALSE)
