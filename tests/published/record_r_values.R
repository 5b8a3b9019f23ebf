# Prints, as JSON, what R's own packages make of data that come with R and lme4.
# Rscript tests/published/record_r_values.R > tests/published/r_values.json
suppressPackageStartupMessages({library(lme4); library(nnet)})

numbers <- function(x) paste0("[", paste(sprintf("%.12g", as.numeric(x)), collapse = ", "), "]")
texts <- function(x) paste0("[", paste(sprintf("\"%s\"", as.character(x)), collapse = ", "), "]")
object <- function(...) {
  parts <- list(...)
  paste0("{", paste(sprintf("\"%s\": %s", names(parts), unlist(parts)), collapse = ",\n "), "}")
}

mixed <- function(formula, data) {
  fit <- glmer(formula, data = data, family = binomial,
               control = glmerControl(optimizer = "bobyqa", optCtrl = list(rhobeg = 0.02, rhoend = 1e-7)))
  object(fixed = numbers(fixef(fit)),
         se = numbers(sqrt(diag(as.matrix(vcov(fit))))),
         sd_terms = texts(names(VarCorr(fit))),
         sd = numbers(sapply(VarCorr(fit), function(v) attr(v, "stddev"))),
         loglik = numbers(logLik(fit)))
}

cbpp$obs <- seq_len(nrow(cbpp))
colours <- as.data.frame(HairEyeColor)
eyes <- multinom(Eye ~ Hair + Sex, data = colours, weights = Freq, trace = FALSE,
                 Hess = TRUE, reltol = 1e-14, abstol = 1e-12, maxit = 1000)
heart <- glm(cbind(c(22, 21), c(51, 6)) ~ c(0, 1), family = binomial)

cat(object(
  versions = object(R = texts(as.character(getRversion())), lme4 = texts(as.character(packageVersion("lme4"))),
                    nnet = texts(as.character(packageVersion("nnet")))),
  cbpp = object(herd = texts(cbpp$herd), period = texts(cbpp$period), incidence = numbers(cbpp$incidence),
                size = numbers(cbpp$size)),
  cbpp_herd = mixed(cbind(incidence, size - incidence) ~ period + (1 | herd), cbpp),
  cbpp_herd_and_row = mixed(cbind(incidence, size - incidence) ~ period + (1 | herd) + (1 | obs), cbpp),
  eye_colour = object(hair = texts(colours$Hair), sex = texts(colours$Sex), eye = texts(colours$Eye),
                      count = numbers(colours$Freq)),
  eye_multinomial = object(categories = texts(levels(colours$Eye)),
                           columns = texts(colnames(coef(eyes))),
                           coefficients = numbers(t(coef(eyes))),
                           se = numbers(t(summary(eyes)$standard.errors)),
                           loglik = numbers(logLik(eyes))),
  heart_by_age = object(coefficients = numbers(coef(heart)), se = numbers(sqrt(diag(vcov(heart)))))
), "\n", sep = "")
