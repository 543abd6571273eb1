#!/usr/bin/env Rscript
# Computes the planned results again from the tables beside this script, with base R alone, and
# says how far they are from what the registry found.

TOLERANCE <- 1e-6

named <- grep("^--file=", commandArgs(FALSE), value = TRUE)
folder <- if (length(named)) dirname(sub("^--file=", "", named[1])) else "."
source(file.path(folder, "methods.R"))
read <- function(name) read.csv(file.path(folder, name), check.names = FALSE, stringsAsFactors = FALSE)

plan <- read("plan.csv")
counts <- read("counts.csv")
results <- read("results.csv")
decisions <- read("decisions.csv")
looks <- read("looks.csv")
look <- read("look.csv")
POPULATIONS <- c("as_intended", "per_protocol")

arm <- function(own, number) {
  some <- own[own$arm == number, ]
  some[order(some$stratum), ]
}

# Every estimator of one endpoint in one population; NULL where R cannot compute it.
estimates <- function(endpoint, population, level, benefit) {
  own <- counts[counts$endpoint == endpoint & counts$population == population, ]
  first <- arm(own, 1)
  second <- arm(own, 0)
  all <- list(sum(first$events), sum(first$known), sum(second$events), sum(second$known), level)
  # What nobody wants: failure, or harm.
  unwanted <- function(arm) if (benefit) arm$known - arm$events else arm$events
  ill <- list(sum(unwanted(first)), sum(first$known), sum(unwanted(second)), sum(second$known), level)
  table <- read(paste0("patterns-", endpoint, "-", population, ".csv"))
  attempt <- function(work) tryCatch(work, error = function(condition) NULL)
  models <- attempt(standardised(table, level, benefit))
  with_echo <- paste0("patterns-", endpoint, "-with_echo.csv")
  echo <- function() standardised(read(with_echo), level, benefit)$standardised
  within <- function() {
    c(score_limits(first$events, first$known, second$events, second$known, level),
      attempt(common_ratio(unwanted(first), first$known, unwanted(second), second$known, level)))
  }
  list(crude = attempt(c(do.call(score_limits, all), do.call(ratio_score_limits, ill))),
       newcombe = attempt(do.call(newcombe, all)),
       within_centres = attempt(within()),
       standardised = models$standardised,
       these_centres = models$these_centres,
       overlap_weighted = attempt(overlap_weighted(table, level, benefit)),
       echo_alike = if (population == "as_intended") attempt(echo()))
}

# What one population decides by the plan's method.
decide <- function(endpoint, population, interval, of_plan) {
  own <- counts[counts$endpoint == endpoint & counts$population == population, ]
  total <- sapply(c(1, 0), function(number) {
    some <- own[own$arm == number, ]
    c(known = sum(some$known), missing = sum(some$missing), events = sum(some$events))
  })
  known <- total["known", ]
  if (any(known == 0) || any(known < of_plan$least_known * (known + total["missing", ]))) {
    return("cannot conclude")
  }
  if (is.null(interval) || is.na(look$level)) return("cannot conclude")
  # How far from the margin on the side where nothing is worse: above 0 is acceptable.
  if (of_plan$scale == "risk_ratio") {
    if (is.na(interval["ratio_lower"])) return("cannot conclude")
    upper <- if (is.na(interval["ratio_upper"])) Inf else interval[["ratio_upper"]]
    apart <- of_plan$margin - c(upper, interval[["ratio_lower"]])
  } else if (of_plan$benefit == 1) {
    apart <- c(interval[["lower"]], interval[["upper"]]) + of_plan$margin
  } else {
    apart <- of_plan$margin - c(interval[["upper"]], interval[["lower"]])
  }
  if (apart[1] > 0) return("shown")
  if (apart[2] < 0) return("worse beyond the margin")
  if (all(total["events", ] == 0) || all(total["events", ] == known)) return("cannot conclude")
  "not shown"
}

together <- function(one, other) {
  if ("cannot conclude" %in% c(one, other)) return("cannot conclude")
  if (one == other) one else "not shown"
}

worst <- 0
compared <- 0
wrong <- 0

# The level of this look: of the intervals that decide, or of the plan where they only describe.
cat(sprintf("Look %d of %d planned. On one side %.6f spent before, %.6f here, %.6f left.\n",
            look$number, look$planned, look$spent_before, look$spent_here, look$left))
level <- plan$level[1]
if (is.na(look$level)) {
  cat("No verdict: ", look$why, ".\n", sep = "")
} else {
  level <- max(level, 1 - 2 * nominal_level(looks$information, looks$spent))
  compared <- compared + 1
  deviation <- abs(level - look$level)
  if (deviation > TOLERANCE) wrong <- wrong + 1 else worst <- max(worst, deviation)
  cat(sprintf("Level of the intervals: R %.9f, registry %.9f%s\n", level, look$level,
              if (deviation > TOLERANCE) "   FURTHER APART THAN 1e-6" else ""))
}
stopped <- FALSE
for (place in seq_len(nrow(plan))) {
  of_plan <- plan[place, ]
  decided <- character(0)
  for (population in POPULATIONS) {
    cat("\n", of_plan$endpoint, ", ", population, "\n", sep = "")
    own <- estimates(of_plan$endpoint, population, level, of_plan$benefit == 1)
    kept <- results[results$endpoint == of_plan$endpoint & results$population == population, ]
    for (line in seq_len(nrow(kept))) {
      label <- sprintf("  %-17s%-23s", kept$estimator[line], kept$quantity[line])
      if (is.na(kept$value[line])) {
        cat(label, "no estimate: ", kept$why[line], "\n", sep = "")
        own[[kept$estimator[line]]] <- NULL
        next
      }
      again <- unname(own[[kept$estimator[line]]][kept$quantity[line]])
      if (length(again) == 0) again <- NaN
      deviation <- abs(again - kept$value[line]) / max(1, abs(kept$value[line]))
      compared <- compared + 1
      far <- is.nan(deviation) || is.na(deviation) || deviation > TOLERANCE
      if (far) wrong <- wrong + 1 else worst <- max(worst, deviation)
      cat(label, sprintf("R %14.9f   registry %14.9f%s\n", again, kept$value[line],
                         if (far) "   FURTHER APART THAN 1e-6" else ""), sep = "")
    }
    decided[population] <- decide(of_plan$endpoint, population, own[[of_plan$method]], of_plan)
  }
  decided["claim"] <- if (stopped) "cannot conclude" else together(decided[[1]], decided[[2]])
  if (decided[["claim"]] != "shown") stopped <- TRUE
  for (what in names(decided)) {
    kept <- decisions$decision[decisions$endpoint == of_plan$endpoint & decisions$population == what]
    alike <- identical(kept, decided[[what]])
    compared <- compared + 1
    if (!alike) wrong <- wrong + 1
    cat(sprintf("  %-17s%-23sR %s, registry %s%s\n", "decision", what, decided[[what]], kept,
                if (alike) "" else "   NOT THE SAME"))
  }
}

cat(sprintf("\nCompared: %d. Largest deviation: %.1e.\n", compared, worst))
if (wrong > 0) {
  cat(wrong, "of them do not agree.\n")
  quit(status = 1)
}
cat("Everything agrees to 1e-6.\n")
