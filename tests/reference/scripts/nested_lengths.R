# Independent numbers for tests/reference/test_agreement_against_r.py.
# Run from tests/reference: Rscript scripts/nested_lengths.R
# R 4.2.2, lme4 1.1-31, clubSandwich (version printed below).
suppressMessages({library(lme4); library(clubSandwich)})
d <- read.csv("tables/nested_lengths.csv")
d$difference <- d$method_mm - d$reference_mm
d$tooth_id <- interaction(d$patient, d$tooth, drop = TRUE)
options(digits = 12)
cat(R.version.string, " lme4", as.character(packageVersion("lme4")),
    " clubSandwich", as.character(packageVersion("clubSandwich")), "\n")

fit <- lmer(difference ~ 1 + (1 | patient) + (1 | tooth_id), data = d, REML = TRUE,
            control = lmerControl(optimizer = "Nelder_Mead",
              optCtrl = list(FtolAbs = 1e-15, FtolRel = 1e-15, XtolRel = 1e-12, maxfun = 1e5)))
v <- as.data.frame(VarCorr(fit))
cat("REML patient, tooth, residual:", v$vcov[match(c("patient", "tooth_id", "Residual"), v$grp)], "\n")
cat("mean, se, logLik:", fixef(fit), sqrt(vcov(fit)[1, 1]), as.numeric(logLik(fit)), "\n")

# lme4 stops within about 1e-5 of the maximum, so Fisher scoring with full matrices finishes.
same <- function(g) outer(as.character(g), as.character(g), "==") + 0
parts <- list(same(d$patient), same(d$tooth_id), diag(nrow(d)))
s <- v$vcov[match(c("patient", "tooth_id", "Residual"), v$grp)]
one <- matrix(1, nrow(d), 1); y <- d$difference
for (i in 1:50) {
  W <- solve(Reduce(`+`, Map(`*`, s, parts)))
  xwx <- sum(W)
  P <- W - (W %*% one %*% t(one) %*% W) / xwx
  score <- sapply(parts, function(K) -sum(P * K) / 2 + (t(y) %*% P %*% K %*% P %*% y) / 2)
  PK <- lapply(parts, function(K) P %*% K)
  info <- outer(1:3, 1:3, Vectorize(function(a, b) sum(PK[[a]] * t(PK[[b]])) / 2))
  step <- solve(info, score); s <- s + step
  if (max(abs(step)) < 1e-15) break
}
W <- solve(Reduce(`+`, Map(`*`, s, parts)))
cat("REML by scoring:", s, " mean:", sum(W %*% y) / sum(W), " se:", 1 / sqrt(sum(W)), "\n")

ols <- lm(difference ~ 1, data = d)
trend <- lm(difference ~ I((method_mm + reference_mm) / 2), data = d)
slope <- coef_test(trend, vcov = "CR2", cluster = d$patient, test = "Satterthwaite")
cat("trend: coefficients", coef(trend), " CR2", slope$SE, " df", slope$df_Satt, "\n")

# Means of means: tooth means, patient means, their mean squares and expectations.
tooth <- aggregate(difference ~ tooth_id + patient, d, function(x) c(mean(x), length(x)))
tooth <- data.frame(patient = tooth$patient, m = tooth$difference[, 1], n = tooth$difference[, 2])
within <- sum((d$difference - ave(d$difference, d$tooth_id))^2)
df_e <- nrow(d) - nrow(tooth)
ms_e <- within / df_e
by_patient <- split(tooth, tooth$patient)
size <- sapply(by_patient, nrow)
ss_t <- sum(sapply(by_patient, function(g) sum((g$m - mean(g$m))^2)))
df_t <- sum(size - 1)
ms_t <- ss_t / df_t
e_t <- sum(sapply(by_patient, function(g) (1 - 1 / nrow(g)) * sum(1 / g$n))) / df_t
pm <- sapply(by_patient, function(g) mean(g$m))
ms_p <- var(pm)
h_t <- mean(1 / size)
e_p <- mean(sapply(by_patient, function(g) sum(1 / g$n) / nrow(g)^2))
var_e <- ms_e
var_t <- ms_t - e_t * var_e
var_p <- ms_p - h_t * var_t - e_p * var_e
cat("closed form patient, tooth, residual:", var_p, var_t, var_e, "\n")

# MOVER interval of the total variance and of the limits (Zou 2013), t for the bias.
w <- c(1, 1 - h_t, 1 - e_p - (1 - h_t) * e_t)
ms <- c(ms_p, ms_t, ms_e); df <- c(length(pm) - 1, df_t, df_e)
lo <- ms * df / qchisq(.975, df); up <- ms * df / qchisq(.025, df)
total <- sum(w * ms)
down <- ifelse(w > 0, ms - lo, up - ms); rise <- ifelse(w > 0, up - ms, ms - lo)
L <- total - sqrt(sum((w * down)^2)); U <- total + sqrt(sum((w * rise)^2))
test <- coef_test(ols, vcov = "CR2", cluster = d$patient, test = "Satterthwaite")
half <- qt(.975, test$df_Satt) * test$SE
k <- qnorm(.975); bias <- mean(d$difference); sd <- sqrt(total)
inward <- sqrt(half^2 + k^2 * (sd - sqrt(L))^2)
outward <- sqrt(half^2 + k^2 * (sqrt(U) - sd)^2)
cat("bias, half width:", bias, half, "\n")
cat("total SD and interval:", sd, sqrt(L), sqrt(U), "\n")
cat("lower limit:", bias - k * sd, bias - k * sd - outward, bias - k * sd + inward, "\n")
cat("upper limit:", bias + k * sd, bias + k * sd - inward, bias + k * sd + outward, "\n")
