# Writes glmm_random_only.json: Rscript tests/oracles/glmm_random_only.R   (from the root; R with lme4, boot and jsonlite)
#
# Three open data sets, only an intercept and two crossed random intercepts each, in the shape of a block folder's counts.csv: the columns
# `row`, `planted`, `failed` and one factor. Laplace by lme4's glmer, twice: with its defaults, and with bobyqa run to 1e-9 for more digits.
# lme4 and boot are used from outside: none of their code is in this project.

suppressPackageStartupMessages({library(lme4); library(boot)})
folder <- "tests/oracles"

pines <- jsonlite::fromJSON(file.path(folder, "pines_glmm_10.json"))$inputs$data
cases <- list(
  cbpp = list(
    dataset = "lme4::cbpp (Lesnoff et al. 2004): row = herd, planted = size, failed = incidence", factor = "period",
    data = data.frame(row = as.character(cbpp$herd), planted = cbpp$size, failed = cbpp$incidence, period = as.character(cbpp$period))),
  cane = list(
    dataset = "boot::cane (data of Demetrio in Davison & Hinkley 1997): row = block, variety = var, planted = n, failed = r", factor = "variety",
    data = data.frame(row = as.character(cane$block), planted = cane$n, failed = cane$r, variety = as.character(cane$var))),
  pines_10 = list(
    dataset = "Stat2Data::Pines, 10 ft, inputs of pines_glmm_10.json: row = Row, col = Col, one tree a cell", factor = "col",
    data = data.frame(row = as.character(pines$Row), planted = 1L, failed = pines$failed, col = as.character(pines$Col)))
)

first_seen <- function(x) factor(x, levels = unique(x))

answer <- function(fit) list(
  intercept = fixef(fit)[["(Intercept)"]],
  se = sqrt(vcov(fit)[1, 1]),
  sd = lapply(VarCorr(fit), function(v) attr(v, "stddev")[["(Intercept)"]]),
  logLik = as.numeric(logLik(fit)),
  singular = isSingular(fit),
  messages = as.list(unlist(fit@optinfo$conv$lme4$messages)),
  modes = lapply(ranef(fit), function(m) as.list(setNames(m[["(Intercept)"]], rownames(m))))
)

run <- function(case) {
  counts <- case$data
  random <- c("row", case$factor)
  counts[random] <- lapply(counts[random], first_seen)
  model <- reformulate(c("1", sprintf("(1 | %s)", random)), response = "cbind(failed, planted - failed)")
  # what glmer warns of is kept in messages
  fit <- function(control) suppressWarnings(glmer(model, data = counts, family = binomial, control = control))
  closer <- glmerControl(optimizer = "bobyqa", tolPwrss = 1e-11, optCtrl = list(rhobeg = 0.2, rhoend = 1e-9, maxfun = 1e5))
  defaults <- answer(fit(glmerControl()))
  list(dataset = case$dataset, inputs = list(data = as.list(case$data), random = random),
       expected = answer(fit(closer)), defaults = defaults[c("intercept", "sd", "logLik", "messages")])
}

result <- list(
  id = "glmm_random_only", set = "public",
  method = "Binomial GLMM, intercept and two crossed random intercepts, Laplace (nAGQ = 1)",
  cases = lapply(cases, run),
  tol = list(fixed_abs = 0.002, sd_abs = 0.005, logLik_abs = 0.001, modes_abs = 0.005),
  notes = "expected: bobyqa to 1e-9; defaults: glmer as it comes. logLik includes the binomial coefficients.",
  published = FALSE,
  software = list(R = R.version.string, lme4 = as.character(packageVersion("lme4")), boot = as.character(packageVersion("boot")))
)
cat(jsonlite::toJSON(result, auto_unbox = TRUE, digits = 12), "\n", file = file.path(folder, "glmm_random_only.json"))
