# Values of test_outcome_against_r.py. Run: Rscript outcome_unbalanced.R
# Ran with R 4.2.2, gee 4.13-25, geepack 1.3.9, survival 3.5-3, MASS 7.3-58.2,
# sandwich 3.0-2.
# The data are made by the Lehmer generator (16807, 2^31 - 1), which both languages compute
# exactly: 60 patients with 1 to 12 teeth, the last with 40; the level is rare in `beyond`.
suppressMessages({library(gee); library(geepack); library(survival); library(MASS); library(sandwich)})
state <- 20240601
draw <- function() { state <<- (state * 16807) %% 2147483647; state / 2147483647 }
rows <- list()
for (g in 1:60) {
  size <- if (g == 60) 40 else 1 + floor(12 * draw()^3)
  tendency <- 2 * draw() - 1
  for (j in 1:size) {
    u <- draw()
    short <- as.numeric(u > 0.70); beyond <- as.numeric(u > 0.93); short <- short - beyond
    months <- 12 + floor(48 * draw())
    p <- 1 / (1 + exp(-(-1 + 0.9 * short + 0.5 * beyond - 0.01 * months + 1.5 * tendency)))
    y <- as.numeric(draw() < p)
    pai <- 1 + floor(5 * draw() * (0.4 + 0.6 * p))
    rows[[length(rows) + 1]] <- c(g, short, beyond, months, y, pai)
  }
}
d <- as.data.frame(do.call(rbind, rows))
names(d) <- c("patient", "short", "beyond", "months", "y", "pai")
options(digits = 12)
cat("rows", nrow(d), "events", sum(d$y), "largest", max(table(d$patient)), "\n")
show <- function(name, x) cat(name, ":", paste(formatC(x, digits = 12, format = "g"), collapse = ", "), "\n")
sink(tempfile())
e <- gee(y ~ short + beyond + months, id = patient, data = d, family = binomial, corstr = "exchangeable",
         scale.fix = TRUE, scale.value = 1, tol = 1e-10, maxiter = 200)
sink()
show("exchangeable coef", coef(e)); show("exchangeable se", sqrt(diag(e$robust.variance)))
i <- geeglm(y ~ short + beyond + months, id = patient, data = d, family = binomial, corstr = "independence")
show("independence coef", coef(i)); show("independence se", summary(i)$coefficients[, 2])
w <- geeglm(y ~ short + beyond + months, id = patient, data = d, family = poisson, corstr = "independence")
show("poisson coef", coef(w)); show("poisson se", summary(w)$coefficients[, 2])
m <- glm(y ~ short + beyond + months, family = binomial, data = d)
show("logistic se G/(G-1)", sqrt(diag(vcovCL(m, cluster = d$patient, type = "HC0", cadjust = TRUE))))
c <- glm(y ~ short + beyond + months, family = binomial("cloglog"), data = d, control = list(epsilon = 1e-14))
show("cloglog coef", coef(c)); show("cloglog se", sqrt(diag(vcov(c))))
d$decades <- d$months / 120
o <- polr(factor(pai) ~ short + beyond + decades, data = d, Hess = TRUE, control = list(reltol = 1e-15, maxit = 1000))
show("ordinal coef", c(coef(o), o$zeta)); show("ordinal se", sqrt(diag(vcov(o)))); show("ordinal loglik", as.numeric(logLik(o)))
k <- survfit(Surv(months, y) ~ 1, data = d, cluster = patient, conf.type = "log-log", robust = TRUE)
s <- summary(k, times = c(20, 35, 50))
show("survival", s$surv); show("survival se", s$std.err); show("survival lower", s$lower); show("survival upper", s$upper)
