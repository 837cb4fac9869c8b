# Times lme4's glmer on a block folder: Rscript benches/mixed/lme4.R FOLDER [factor ...]
#
# Reads FOLDER/counts.csv and fits, with glmer's defaults (Laplace),
#   failed of planted ~ 1 + (1 | row) + (1 | batch) + (1 | clone) + (1 | rootstock)
# or the factors named instead. Prints seconds (of the fit alone; by the clock, and of the processor, which a busy machine stretches less), sds, intercept and log-likelihood as JSON.
# lme4 (GPL) is used here from outside, as a yardstick: none of its code is in this project.

suppressPackageStartupMessages(library(lme4))
arguments <- commandArgs(trailingOnly = TRUE)
if (length(arguments) < 1) stop("give the block folder")
factors <- if (length(arguments) > 1) arguments[-1] else c("row", "batch", "clone", "rootstock")

counts <- read.csv(file.path(arguments[1], "counts.csv"))
counts[factors] <- lapply(counts[factors], factor)
model <- reformulate(c("1", sprintf("(1 | %s)", factors)), response = "cbind(failed, planted - failed)")
clock <- system.time(fit <- glmer(model, data = counts, family = binomial))

result <- list(
  seconds = clock[["elapsed"]],
  cpu_seconds = clock[["user.self"]] + clock[["sys.self"]],
  cells = nrow(counts),
  vines = sum(counts$planted),
  failed = sum(counts$failed),
  intercept = fixef(fit)[["(Intercept)"]],
  se = sqrt(vcov(fit)[1, 1]),
  sd = lapply(VarCorr(fit), function(v) attr(v, "stddev")[["(Intercept)"]])[factors],
  logLik = as.numeric(logLik(fit)),
  singular = isSingular(fit),
  messages = as.list(unlist(fit@optinfo$conv$lme4$messages)),
  software = list(R = R.version.string, lme4 = as.character(packageVersion("lme4")))
)
cat(jsonlite::toJSON(result, auto_unbox = TRUE, digits = NA), "\n")
