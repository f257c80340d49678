# Values of test_outcome_demo_against_r.py. Run in this folder: Rscript outcome_demo.R
# Ran with R 4.2.2, gee 4.13-25, survival 3.5-3, MASS 7.3-58.2, sandwich 3.0-2.
# The Firth, Mancl-DeRouen, delta-method and E-value code below is written out here, apart
# from the Python code: dense matrices and uniroot, where Python has sums and a solver.
suppressMessages({library(gee); library(survival); library(MASS); library(sandwich)})
options(digits = 12)
show <- function(name, x) cat(name, ":", paste(formatC(x, digits = 12, format = "g"), collapse = ", "), "\n")
all <- read.csv("../tables/outcome_demo.csv")
all$short <- as.numeric(all$level == "short"); all$beyond <- as.numeric(all$level == "beyond")
d <- all[!is.na(all$y) & all$level %in% c("within", "short", "beyond"), ]

# C1: counts, exact and Pearson tests, Newcombe (10.1002/(SICI)1097-0258(19980430)17:8), Katz, Woolf
counts <- table(factor(d$level, c("within", "short", "beyond")), d$y)
show("C1 events and teeth", c(counts[, "1"], rowSums(counts)))
show("C1 p Pearson, exact", c(chisq.test(counts, correct = FALSE)$p.value, fisher.test(counts)$p.value))
wilson <- function(x, n) prop.test(x, n, correct = FALSE)$conf.int
for (l in c("short", "beyond")) {
  x1 <- counts[l, "1"]; n1 <- sum(counts[l, ]); x0 <- counts["within", "1"]; n0 <- sum(counts["within", ])
  w1 <- wilson(x1, n1); w0 <- wilson(x0, n0); p1 <- x1 / n1; p0 <- x0 / n0; rd <- p1 - p0
  show(paste("C1 difference", l), c(rd, rd - sqrt((p1 - w1[1])^2 + (w0[2] - p0)^2), rd + sqrt((w1[2] - p1)^2 + (p0 - w0[1])^2)))
  show(paste("C1 risk ratio", l), exp(log(p1 / p0) + c(0, -1, 1) * qnorm(.975) * sqrt(1 / x1 - 1 / n1 + 1 / x0 - 1 / n0)))
  show(paste("C1 odds ratio", l), exp(log(x1 * (n0 - x0) / (x0 * (n1 - x1))) + c(0, -1, 1) * qnorm(.975) * sqrt(1 / x1 + 1 / (n1 - x1) + 1 / x0 + 1 / (n0 - x0))))
}

# C2: exchangeable, robust
m <- d[complete.cases(d[, c("lesion", "molar", "retreatment", "months_from_treatment")]), ]
m <- m[order(m$patient), ]
sink(tempfile())
e <- gee(y ~ short + beyond + lesion + molar + retreatment + months_from_treatment, id = patient, data = m,
         family = binomial, corstr = "exchangeable", scale.fix = TRUE, scale.value = 1, tol = 1e-12, maxiter = 500)
sink()
show("C2 n, patients, events", c(nrow(m), length(unique(m$patient)), sum(m$y)))
show("C2 coef", coef(e)); show("C2 se", sqrt(diag(e$robust.variance))); show("C2 alpha", e$working.correlation[1, 2])

# C4, C9: standardised over the rows, delta method; E-value (10.7326/M16-2607)
x <- model.matrix(~ short + beyond + lesion + molar + retreatment + months_from_treatment, m)
at <- function(s, b) { z <- x; z[, "short"] <- s; z[, "beyond"] <- b; p <- plogis(z %*% coef(e)); list(p = mean(p), g = colMeans(as.vector(p * (1 - p)) * z)) }
r0 <- at(0, 0)
ev <- function(r) { r <- ifelse(r < 1, 1 / r, r); r + sqrt(r * (r - 1)) }
for (l in c("short", "beyond")) {
  r1 <- if (l == "short") at(1, 0) else at(0, 1)
  g <- r1$g - r0$g; se <- sqrt(g %*% e$robust.variance %*% g)
  h <- r1$g / r1$p - r0$g / r0$p; sl <- sqrt(h %*% e$robust.variance %*% h)
  ratio <- exp(log(r1$p / r0$p) + c(0, -1, 1) * qnorm(.975) * sl)
  show(paste("C4 risk, difference with limits", l), c(r1$p, r1$p - r0$p + c(0, -1, 1) * qnorm(.975) * se))
  show(paste("C4 ratio", l), ratio)
  limit <- if (ratio[1] >= 1) ratio[2] else ratio[3]
  show(paste("C9", l), c(ev(ratio[1]), if (ratio[2] <= 1 && ratio[3] >= 1) 1 else ev(limit)))
}
show("C4 risk within", r0$p)

# C3: Firth by Newton on the penalised score; profile limits by uniroot (10.1093/biomet/80.1.27)
firth <- function(x, y, fixed = NULL, value = 0) {
  free <- setdiff(seq_len(ncol(x)), fixed); b <- numeric(ncol(x)); if (!is.null(fixed)) b[fixed] <- value
  loglik <- function(b) { p <- plogis(x %*% b); w <- as.vector(p * (1 - p)); sum(dbinom(y, 1, p, log = TRUE)) + 0.5 * determinant(crossprod(x * w, x))$modulus }
  for (i in 1:500) {
    p <- as.vector(plogis(x %*% b)); w <- p * (1 - p); inv <- solve(crossprod(x * w, x))
    h <- w * rowSums((x %*% inv) * x); u <- crossprod(x, y - p + h * (0.5 - p))[free]
    step <- solve(crossprod(x[, free, drop = FALSE] * w, x[, free, drop = FALSE]), u)
    size <- 1; while (loglik(replace(b, free, b[free] + size * step)) < loglik(b) - 1e-12 && size > 1e-8) size <- size / 2
    b[free] <- b[free] + size * step
    if (max(abs(step)) < 1e-12) break
  }
  list(b = b, l = loglik(b))
}
profile <- function(x, y, k) {
  full <- firth(x, y); gap <- function(v) 2 * (full$l - firth(x, y, k, v)$l) - qchisq(.95, 1)
  c(full$b[k], uniroot(gap, c(full$b[k] - 8, full$b[k]), tol = 1e-10)$root, uniroot(gap, c(full$b[k], full$b[k] + 8), tol = 1e-10)$root)
}
show("C3 short", profile(x, m$y, 2)); show("C3 beyond", profile(x, m$y, 3))

# C5: restricted cubic spline (10.1007/978-3-319-19425-7), covariance HC0 by patient with G/(G-1)
s <- m[!is.na(m$offset), ]
k <- quantile(d$offset[!is.na(d$offset)], c(.05, .35, .65, .95), names = FALSE)
rcs <- function(v) { q <- function(t) pmax(v - t, 0)^3; n <- 4; z <- sapply(1:2, function(j) (q(k[j]) - q(k[3]) * (k[4] - k[j]) / (k[4] - k[3]) + q(k[4]) * (k[3] - k[j]) / (k[4] - k[3])) / (k[4] - k[1])^2); cbind(v, matrix(z, ncol = 2)) }
z <- rcs(s$offset)
f <- glm(s$y ~ z + s$lesion + s$molar + s$retreatment, family = binomial, control = list(epsilon = 1e-14))
v <- vcovCL(f, cluster = s$patient, type = "HC0", cadjust = TRUE)
for (to in c(-2.5, 0.5)) { g <- rcs(to) - rcs(-1); l <- sum(g * coef(f)[2:4]); se <- sqrt(g %*% v[2:4, 2:4] %*% t(g)); show(paste("C5 log odds ratio", to), l + c(0, -1, 1) * qnorm(.975) * c(se)) }
show("C5 knots", k); show("C5 straight line chi2", t(coef(f)[3:4]) %*% solve(v[3:4, 3:4]) %*% coef(f)[3:4])

# C6: proportional odds
o <- polr(factor(pai) ~ short + beyond + lesion + molar, data = m[!is.na(m$pai), ], Hess = TRUE, control = list(reltol = 1e-15, maxit = 2000))
show("C6 coef", coef(o)); show("C6 se", sqrt(diag(vcov(o)))[1:4]); show("C6 loglik", as.numeric(logLik(o)))

# C7: stabilised weights among due teeth, no truncation; weighted difference, HC0 by patient
w <- all[all$is_due == 1 & all$is_lost_other == 0 & all$level %in% c("within", "short", "beyond"), ]
w <- w[complete.cases(w[, c("lesion", "molar", "retreatment")]), ]
w$seen <- as.numeric(!is.na(w$y))
full <- glm(seen ~ short + beyond + lesion + molar + retreatment + factor(clinician), binomial, w, epsilon = 1e-14)
part <- glm(seen ~ short + beyond, binomial, w, epsilon = 1e-14)
w$weight <- fitted(part) / fitted(full); u <- w[w$seen == 1, ]
show("C7 n, mean, largest, effective", c(nrow(u), mean(u$weight), max(u$weight), sum(u$weight)^2 / sum(u$weight^2)))
show("C7 lesion coef, se", coef(summary(full))["lesion", 1:2])
for (l in c("short", "beyond")) {
  q <- u[u$level %in% c("within", l), ]; f <- lm(y ~ I(level == l), q, weights = weight)
  se <- sqrt(vcovCL(f, cluster = q$patient, type = "HC0", cadjust = FALSE)[2, 2])
  show(paste("C7 difference", l), coef(f)[2] + c(0, -1, 1) * qnorm(.975) * se)
}

# C8: survival clustered on the patient; Turnbull; discrete time
t8 <- all[!is.na(all$days), ]; t8$months <- t8$days / 30.4375
k8 <- summary(survfit(Surv(months, lost) ~ 1, t8, cluster = patient, conf.type = "log-log", robust = TRUE), times = c(14, 24))
show("C8 survival, se, lower, upper", c(k8$surv, k8$std.err, k8$lower, k8$upper))
i8 <- all[!is.na(all$left), ]; i8$right[!is.finite(i8$right)] <- NA
# Turnbull by plain EM over the steps between all ends: survfit(type = "interval2") gives
# 0.7469, 0.8557 and stops early.
i8$upto <- ifelse(is.na(i8$right), Inf, i8$right)
ends <- sort(unique(c(i8$left, i8$upto))); from <- head(ends, -1); to <- tail(ends, -1)
inside <- outer(i8$left, from, "<=") & outer(i8$upto, to, ">="); mass <- rep(1 / length(to), length(to))
for (i in 1:200000) { new <- mass * colMeans(inside / as.vector(inside %*% mass)); gap <- max(abs(new - mass)); mass <- new; if (gap < 1e-15) break }
show("C8 healed by 14, 24", c(sum(mass[to <= 14]), sum(mass[to <= 24])))
i8$event <- as.numeric(!is.na(i8$right)); end <- ifelse(i8$event == 1, pmax(round(i8$right / 12), 1), round(i8$left / 12))
i8$end <- end; i8 <- i8[i8$level %in% c("within", "short", "beyond") & end > 0, ]
pp <- i8[rep(seq_len(nrow(i8)), i8$end), ]; pp$period <- sequence(i8$end); pp$hit <- as.numeric(pp$event == 1 & pp$period == pp$end)
f8 <- glm(hit ~ 0 + factor(period) + short + beyond, binomial, pp, epsilon = 1e-14)
v8 <- vcovCL(f8, cluster = pp$patient, type = "HC0", cadjust = TRUE); n8 <- length(coef(f8))
show("C8 yearly coef, se", c(tail(coef(f8), 2), sqrt(diag(v8))[(n8 - 1):n8]))

# Small and nearly separated: the first patients, with one event among the teeth short
n <- m[m$patient < 140, ]; n <- n[!(n$short == 1 & n$y == 1 & duplicated(paste(n$short, n$y))), ]
show("small n, patients, events, short events", c(nrow(n), length(unique(n$patient)), sum(n$y), sum(n$y[n$short == 1])))
sink(tempfile())
a <- gee(y ~ short + beyond + lesion, id = patient, data = n, family = binomial, corstr = "exchangeable",
         scale.fix = TRUE, scale.value = 1, tol = 1e-12, maxiter = 500)
sink()
show("small coef", coef(a)); show("small robust se", sqrt(diag(a$robust.variance)))
alpha <- a$working.correlation[1, 2]; X <- model.matrix(~ short + beyond + lesion, n); p <- as.vector(plogis(X %*% coef(a)))
dense <- function(power) {  # Mancl-DeRouen (1), Kauermann-Carroll (1/2)
  parts <- lapply(split(seq_along(p), n$patient), function(i) {
    D <- X[i, , drop = FALSE] * (p * (1 - p))[i]; s <- sqrt((p * (1 - p))[i]); R <- matrix(alpha, length(i), length(i)); diag(R) <- 1
    list(D = D, W = solve(outer(s, s) * R), r = (n$y - p)[i]) })
  M <- solve(Reduce(`+`, lapply(parts, function(q) t(q$D) %*% q$W %*% q$D)))
  meat <- Reduce(`+`, lapply(parts, function(q) {
    H <- q$D %*% M %*% t(q$D) %*% q$W; E <- eigen(diag(nrow(H)) - H)
    root <- Re(E$vectors %*% diag(E$values^-power, nrow(H)) %*% solve(E$vectors))
    u <- t(q$D) %*% q$W %*% root %*% q$r; u %*% t(u) }))
  sqrt(diag(M %*% meat %*% M))
}
show("small Mancl-DeRouen se", dense(1)); show("small Kauermann-Carroll se", dense(0.5))
show("small Firth short", profile(X, n$y, 2))
sep <- n[!(n$short == 1 & n$y == 1), ]; S <- model.matrix(~ short + beyond + lesion, sep)
show("separated n, short events", c(nrow(sep), sum(sep$y[sep$short == 1]))); show("separated Firth coef", firth(S, sep$y)$b)
