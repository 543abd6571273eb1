# The planned estimates and those without each centre, in base R by the script of the kit.
# Rscript peer.R FOLDER; reading is not timed. Prints seconds, peak KiB and one limit.
folder <- commandArgs(TRUE)[1]
source(file.path(folder, "methods.R"))
read <- function(name) read.csv(file.path(folder, name), check.names = FALSE)
counts <- read("counts.csv")
places <- expand.grid(population = c("as_intended", "per_protocol"),
                      endpoint = c("acute_success", "major_within_30_days"), stringsAsFactors = FALSE)
tables <- lapply(seq_len(4), function(i) {
  read(paste0("patterns-", places$endpoint[i], "-", places$population[i], ".csv"))
})
start <- proc.time()[["elapsed"]]
kept <- NULL
for (i in seq_len(4)) {
  own <- counts[counts$endpoint == places$endpoint[i] & counts$population == places$population[i], ]
  benefit <- places$endpoint[i] == "acute_success"
  a <- own[own$arm == 1, ]; b <- own[own$arm == 0, ]
  score_limits(sum(a$events), sum(a$known), sum(b$events), sum(b$known), 0.95)
  score_limits(a$events, a$known, b$events, b$known, 0.95)
  found <- standardised(tables[[i]], 0.95, benefit)
  overlap_weighted(tables[[i]], 0.95, benefit)
  if (i == 1) kept <- found$standardised[["upper"]]
  if (places$population[i] == "as_intended") {
    for (centre in unique(tables[[i]]$centre)) {
      standardised(tables[[i]][tables[[i]]$centre != centre, ], 0.95, benefit)
    }
  }
}
seconds <- proc.time()[["elapsed"]] - start
peak <- sub("[^0-9]*([0-9]+).*", "\\1", grep("VmHWM", readLines("/proc/self/status"), value = TRUE))
cat(sprintf("%.2f %s %.9f\n", seconds, peak, kept))
