# Independent numbers for tests/reference/test_agreement_by_id.py: A1 to A10 on two tables.
# Run from tests/reference: Rscript scripts/agreement_by_id.R > tables/agreement_by_id.json
# Packages where there is one (the calls stand below); every other formula is written out on
# the rows themselves, patients are left out one by one in loops.
suppressMessages({library(clubSandwich); library(nlme); library(lme4); library(jsonlite)})
out <- list(); table_name <- ""
put <- function(name, ...) out[[table_name]][[name]] <<- as.numeric(c(...))
left_out <- function(d, f) t(sapply(unique(d$patient), function(p) f(d[d$patient != p, , drop = FALSE])))
jack_se <- function(v) { v <- as.numeric(v); n <- length(v); sqrt((n - 1) / n * sum((v - mean(v))^2)) }
cr2 <- function(fit, cluster) { s <- coef_test(fit, vcov = "CR2", cluster = cluster, test = "Satterthwaite")
  list(b = s$beta, se = s$SE, df = s$df_Satt) }
# Interval of a positive number by its logarithm, freedom by how unevenly patients weigh.
log_freedom <- function(v) { v <- v - mean(v); n <- length(v); max(3, min(n - 1, 2 * n / (mean(v^4) / mean(v^2)^2 - 1))) }
log_jack <- function(b, v) if (all(v > 0)) b * exp(c(-1, 1) * qt(.975, log_freedom(v)) * jack_se(log(v))) else
  c(max(0, b - qt(.975, log_freedom(v)) * jack_se(v)), b + qt(.975, log_freedom(v)) * jack_se(v))
interval <- function(b, se, df) c(b, b - qt(.975, df) * se, b + qt(.975, df) * se)

# --- A1: exact factors by the noncentral t, and by integrating over the mean (Carkeet)
two_sided <- function(n, confidence) {
  holds <- function(k) integrate(function(x) { r <- sapply(x, function(m) uniroot(function(h)
      pnorm(m + h) - pnorm(m - h) - .95, c(0, 30), tol = 1e-13)$root)
    2 * dnorm(x * sqrt(n)) * sqrt(n) * pchisq((n - 1) * r^2 / k^2, n - 1, lower.tail = FALSE) },
    0, 9 / sqrt(n), rel.tol = 1e-11, subdivisions = 500)$value
  uniroot(function(k) holds(k) - confidence, c(.5, 10), tol = 1e-12)$root }
a1 <- function(d) {
  x <- d$electronic - d$confirmed; n <- length(x); m <- mean(x); s <- sd(x); z <- qnorm(.975)
  put("A1.bias", m, m + c(-1, 1) * qt(.975, n - 1) * s / sqrt(n))
  one <- qt(c(.025, .975), n - 1, ncp = z * sqrt(n)) / sqrt(n)
  put("A1.one_limit", m + z * s, m + one * s)
  both <- c(two_sided(n, .025), two_sided(n, .975))
  put("A1.pair", m - z * s, m - both[2] * s, m - both[1] * s)
  half <- qt(.975, n - 1) * s * sqrt(1 / n + z^2 / (2 * (n - 1)))
  put("A1.approximate_1999", m + z * s, m + z * s - half, m + z * s + half)
}

# --- A2: means of means on the rows; jackknife by patient; REML by lme4
total_sd <- function(d) {
  y <- d$electronic - d$confirmed; tooth <- paste(d$patient, d$tooth)
  tm <- tapply(y, tooth, mean); tn <- tapply(y, tooth, length)
  tp <- tapply(d$patient, tooth, function(v) v[1])
  df_e <- length(y) - length(tm); ss_e <- sum((y - tm[tooth])^2)
  pm <- tapply(tm, tp, mean); pn <- tapply(tm, tp, length)
  df_t <- length(tm) - length(pm); ss_t <- sum((tm - pm[tp])^2)
  inv <- tapply(1 / tn, tp, sum)
  e <- if (df_e > 0) ss_e / df_e else 0
  t <- if (df_t > 0) (ss_t - sum((1 - 1 / pn) * inv) * e) / df_t else 0
  p <- var(pm) - mean(1 / pn) * t - mean(inv / pn^2) * e
  sqrt(max(e + t + p, 0)) }
a2 <- function(d) {
  y <- d$electronic - d$confirmed
  b <- cr2(lm(y ~ 1), d$patient); put("A2.bias", interval(b$b, b$se, b$df))
  v <- left_out(d, function(k) c(mean(k$electronic - k$confirmed), total_sd(k)))
  n <- nrow(v); s <- total_sd(d); z <- qnorm(.975); m <- mean(y)
  ds <- v[, 2] - mean(v[, 2]); dm <- v[, 1] - mean(v[, 1])
  df <- max(3, min(n - 1, 2 * n / (mean(ds^4) / mean(ds^2)^2 - 1)))
  reach <- qt(.975, df) * jack_se(log(v[, 2])); sd_ends <- s * exp(c(-1, 1) * reach)
  r <- sum(ds * dm) / sqrt(sum(ds^2) * sum(dm^2)); h <- qt(.975, b$df) * b$se
  far <- z * (sd_ends[2] - s); near <- z * (s - sd_ends[1])
  put("A2.sd", s, sd_ends)
  put("A2.lower", m - z * s, m - z * s - sqrt(h^2 + far^2 - 2 * r * h * far),
      m - z * s + sqrt(h^2 + near^2 - 2 * r * h * near))
  put("A2.upper", m + z * s, m + z * s - sqrt(h^2 + near^2 + 2 * r * h * near),
      m + z * s + sqrt(h^2 + far^2 + 2 * r * h * far))
  # lmer(y ~ 1 + (1 | patient)), then Fisher scoring with full matrices to the last digits.
  s2 <- as.data.frame(VarCorr(lmer(y ~ 1 + (1 | patient), data = d)))$vcov
  same <- outer(d$patient, d$patient, "==") + 0; parts <- list(same, diag(nrow(d)))
  s2 <- pmax(s2, 1e-6)
  for (i in 1:60) { W <- solve(s2[1] * parts[[1]] + s2[2] * parts[[2]])
    P <- W - rowSums(W) %*% t(colSums(W)) / sum(W); PK <- lapply(parts, function(K) P %*% K)
    score <- sapply(PK, function(A) -sum(diag(A)) / 2 + drop(t(y) %*% A %*% P %*% y) / 2)
    info <- outer(1:2, 1:2, Vectorize(function(a, b) sum(PK[[a]] * t(PK[[b]])) / 2))
    s2 <- s2 + solve(info, score) }
  if (s2[1] > 0) put("A2.reml", s2)
}

# --- A3: repeats
a3 <- function(d) {
  r <- d[!is.na(d$again), ]; n <- nrow(r); w <- (r$electronic - r$again)^2 / 2
  sw <- sqrt(mean(w)); put("A3.within_sd", sw, sw * sqrt(n / qchisq(c(.975, .025), n)))
  left <- sapply(unique(r$patient), function(p) sqrt(mean(w[r$patient != p])))
  put("A3.within_sd_by_patient", sw, log_jack(sw, left))
  put("A3.coefficient", qnorm(.975) * sqrt(2) * sw)
  m <- (r$electronic + r$again) / 2 - r$confirmed; z <- qnorm(.975)
  total <- var(m) + mean(w) / 2; b <- mean(m)
  lo <- c(var(m) * (n - 1) / qchisq(.975, n - 1), mean(w) * n / qchisq(.975, n))
  hi <- c(var(m) * (n - 1) / qchisq(.025, n - 1), mean(w) * n / qchisq(.025, n))
  L <- total - sqrt((var(m) - lo[1])^2 + (mean(w) - lo[2])^2 / 4)
  U <- total + sqrt((hi[1] - var(m))^2 + (hi[2] - mean(w))^2 / 4)
  h <- z * sqrt(var(m) / n); s <- sqrt(total)
  put("A3.constant_upper", b + z * s, b + z * s - sqrt(h^2 + z^2 * (s - sqrt(L))^2),
      b + z * s + sqrt(h^2 + z^2 * (sqrt(U) - s)^2))
}

# --- A4: variances of differences of pairs (Grubbs), likelihood of contrasts by optim
a4 <- function(d) {
  names <- c("electronic", "film", "tactile", "other")
  grubbs <- function(k) { X <- as.matrix(k[, names]); N <- ncol(X)
    V <- outer(1:N, 1:N, Vectorize(function(i, j) var(X[, i] - X[, j])))
    pairs <- sum(V[upper.tri(V)])
    c((rowSums(V) - pairs / (N - 1)) / (N - 2), colMeans(X) - mean(colMeans(X))) }
  g <- grubbs(d); put("A4.variances", g[1:4]); put("A4.relative_bias", g[5:8])
  v <- left_out(d, grubbs); put("A4.variance_errors", apply(v[, 1:4], 2, jack_se))
  put("A4.bias_errors", apply(v[, 5:8], 2, jack_se))
  up <- sum(g[1:4]) / 20; left <- v[, 1:4] + rowSums(v[, 1:4]) / 20
  ends <- sapply(1:4, function(j) sqrt(pmax(log_jack(g[j] + up, left[, j]) - up, 0)))
  put("A4.sd", rbind(sqrt(pmax(g[1:4], 0)), ends))
  C <- cbind(diag(3), -1); S <- C %*% cov(as.matrix(d[, names])) %*% t(C)
  minus <- function(l) { E <- C %*% diag(exp(l)) %*% t(C); as.numeric(determinant(E)$modulus) + sum(diag(solve(E, S))) }
  slope <- function(l) { E <- solve(C %*% diag(exp(l)) %*% t(C)); M <- t(C) %*% (E - E %*% S %*% E) %*% C; diag(M) * exp(l) }
  f <- optim(log(pmax(g[1:4], .01)), minus, slope, method = "BFGS", control = list(reltol = 1e-16, maxit = 1000))
  put("A4.likelihood", exp(f$par))
}

# --- A5: slope (CR2), Deming with jackknife, Passing-Bablok
deming <- function(x, y, ratio) { u <- var(y) - ratio * var(x); cxy <- cov(x, y)
  b <- (u + sqrt(u^2 + 4 * ratio * cxy^2)) / (2 * cxy); c(b, mean(y) - b * mean(x)) }
a5 <- function(d) {
  y <- d$film - d$confirmed; m <- (d$film + d$confirmed) / 2
  b <- cr2(lm(y ~ m), d$patient); put("A5.slope", interval(b$b[2], b$se[2], b$df[2]))
  est <- deming(d$confirmed, d$film, 2); v <- left_out(d, function(k) deming(k$confirmed, k$film, 2))
  df <- nrow(v) - 2
  put("A5.deming", interval(est[1], jack_se(v[, 1]), df), interval(est[2], jack_se(v[, 2]), df))
  k <- d[!duplicated(d$patient), ]; s <- c(); n <- nrow(k)
  for (i in 1:(n - 1)) for (j in (i + 1):n) { dx <- k$confirmed[j] - k$confirmed[i]; dy <- k$film[j] - k$film[i]
    if (abs(dx) < 1e-9) dx <- 0; if (abs(dy) < 1e-9) dy <- 0
    if (dx != 0 || dy != 0) { q <- if (dx == 0) Inf else dy / dx; if (q != -1) s <- c(s, q) } }
  s <- sort(s); K <- sum(s < -1); N <- length(s)
  mid <- if (N %% 2) s[(N + 1) / 2 + K] else (s[N / 2 + K] + s[N / 2 + 1 + K]) / 2
  w <- round((N - qnorm(.975) * sqrt(n * (n - 1) * (2 * n + 5) / 18)) / 2)
  put("A5.passing_bablok", mid, s[w + K], s[N - w + 1 + K], median(k$film - mid * k$confirmed))
}

# --- A6: Wilson with the design effect of the one-way intraclass correlation; paired shares
wilson <- function(p, n, z = qnorm(.975)) (p + z^2 / (2 * n) + c(-1, 1) * z * sqrt(p * (1 - p) / n + z^2 / (4 * n^2))) / (1 + z^2 / n)
a6 <- function(d) {
  one <- as.numeric(round(abs(d$electronic - d$confirmed), 2) <= .5)
  two <- as.numeric(round(abs(d$film - d$confirmed), 2) <= .5)
  m <- tapply(one, d$patient, length); a <- anova(lm(one ~ factor(d$patient)))
  n0 <- (sum(m) - sum(m^2) / sum(m)) / (length(m) - 1); ms <- a[["Mean Sq"]]
  icc <- (ms[1] - ms[2]) / (ms[1] + (n0 - 1) * ms[2])
  put("A6.share", mean(one), wilson(mean(one), length(one) / (1 + max(icc, 0) * (sum(m^2) / sum(m) - 1))))
  g <- one - two; t <- tapply(g, d$patient, sum); e <- t - mean(g) * m; G <- length(m)
  se <- sqrt(G / (G - 1) * sum(e^2)) / sum(m); put("A6.difference", interval(mean(g), se, G - 1))
}

# --- A7: mean by CR2; log-variance by optim, sandwich by patient from analytic parts
a7 <- function(d) {
  y <- d$electronic - d$confirmed; X <- model.matrix(~ wet + factor(file), d)
  b <- cr2(lm(y ~ wet + factor(file), d), d$patient); put("A7.shift", interval(b$b[2], b$se[2], b$df[2]))
  crude <- cr2(lm(y ~ wet, d), d$patient); put("A7.shift_crude", interval(crude$b[2], crude$se[2], crude$df[2]))
  p <- ncol(X); ml <- function(t) { r <- y - X %*% t[1:p]; l <- X %*% t[-(1:p)]; sum(l + r^2 * exp(-l)) / 2 }
  gr <- function(t) { r <- drop(y - X %*% t[1:p]); w <- drop(exp(-X %*% t[-(1:p)]))
    c(-colSums(X * (r * w)), colSums(X * ((1 - r^2 * w) / 2))) }
  f <- optim(c(coef(lm(y ~ X - 1)), log(var(y)), rep(0, p - 1)), ml, gr, method = "BFGS", control = list(reltol = 1e-16, maxit = 5000))
  t <- f$par
  hessian <- function(t) { r <- drop(y - X %*% t[1:p]); w <- drop(exp(-X %*% t[-(1:p)]))
    rbind(cbind(t(X) %*% (X * w), t(X) %*% (X * (r * w))), cbind(t(X) %*% (X * (r * w)), t(X) %*% (X * (r^2 * w / 2)))) }
  for (i in 1:30) t <- t - solve(hessian(t), gr(t))
  r <- drop(y - X %*% t[1:p]); w <- drop(exp(-X %*% t[-(1:p)]))
  scores <- rowsum(cbind(X * (r * w), X * ((r^2 * w - 1) / 2)), d$patient); G <- nrow(scores)
  V <- solve(hessian(t)) %*% crossprod(scores) %*% solve(hessian(t)) * G / (G - 1)
  put("A7.sd_ratio_sandwich", exp(interval(t[p + 2], sqrt(V[p + 2, p + 2]), G - 1) / 2))
  # One Newton step from the whole fit for each patient left out, by its own rows.
  step <- sapply(unique(d$patient), function(one) { k <- d$patient == one; u <- r^2 * w
    rest <- t(X[!k, ]) %*% (X[!k, ] * (u[!k] / 2)); own <- colSums(X[k, , drop = FALSE] * ((u[k] - 1) / 2))
    if (kappa(rest, exact = TRUE, norm = "2") < 1e10) solve(rest, own)[2] else solve(t(X) %*% (X * (u / 2)), own)[2] })
  put("A7.sd_ratio", exp(interval(t[p + 2], sqrt((G - 1) / G * sum(step^2)), log_freedom(step)) / 2))
  # nlme::gls(y ~ wet, weights = varIdent(form = ~ 1 | wet), method = "REML")
  g <- gls(y ~ wet, data = transform(d, y = y), weights = varIdent(form = ~ 1 | wet), method = "REML",
           control = glsControl(tolerance = 1e-14, msTol = 1e-14, msMaxIter = 1000))
  ratio <- coef(g$modelStruct$varStruct, unconstrained = FALSE)
  # Level 0 or 1 is the reference of varIdent, whichever comes first in the rows.
  put("A7.gls_ratio", if (names(ratio) == "1") ratio else 1 / ratio)
}

# --- A8: concordance, intraclass correlations, deviation index, equivalence
ccc <- function(x, y) { n <- length(x); v <- function(a, b) cov(a, b) * (n - 1) / n
  2 * v(x, y) / (v(x, x) + v(y, y) + (mean(x) - mean(y))^2) }
squares <- function(x, y) { a <- anova(lm(c(x, y) ~ factor(rep(seq_along(x), 2)) + factor(rep(1:2, each = length(x)))))
  a[["Mean Sq"]] }
icc_a <- function(x, y) { m <- squares(x, y); (m[1] - m[3]) / (m[1] + m[3] + 2 * (m[2] - m[3]) / length(x)) }
a8 <- function(d) {
  x <- d$film; y <- d$confirmed; n <- length(x); v <- ccc(x, y)
  j <- left_out(d, function(k) c(ccc(k$film, k$confirmed), atanh(icc_a(k$film, k$confirmed)))); G <- nrow(j <- matrix(j, ncol = 2))
  put("A8.concordance", tanh(interval(atanh(v), jack_se(j[, 1]) / (1 - v^2), G - 1)))
  a <- icc_a(x, y); put("A8.icc_a_1", tanh(interval(atanh(a), jack_se(j[, 2]), G - 1)))
  m <- squares(x, y); put("A8.icc_c_1", (m[1] - m[3]) / (m[1] + m[3]))
  A <- 2 * a / (n * (1 - a)); B <- 1 + 2 * a * (n - 1) / (n * (1 - a))
  df <- (A * m[2] + B * m[3])^2 / ((A * m[2])^2 + (B * m[3])^2 / (n - 1))
  low <- qf(.975, n - 1, df); high <- qf(.975, df, n - 1); rest <- 2 * m[2] + (2 * n - 2 - n) * m[3]
  put("A8.icc_a_1_rows", a, n * (m[1] - low * m[3]) / (low * rest + n * m[1]), n * (high * m[1] - m[3]) / (rest + n * high * m[1]))
  e <- x - y; put("A8.deviation_index", uniroot(function(k) pnorm((k - mean(e)) / sd(e)) - pnorm((-k - mean(e)) / sd(e)) - .9, c(0, 20), tol = 1e-13)$root)
  b <- cr2(lm(e ~ 1), d$patient)
  put("A8.equivalence_p", max(pt((b$b + .5) / b$se, b$df, lower.tail = FALSE), pt((b$b - .5) / b$se, b$df)))
}

# --- A9: readers
weights <- function(q, power) 1 - (abs(outer(1:q, 1:q, "-")) / (q - 1))^power
agreed <- function(a, b, w) { t <- table(factor(a, 1:5), factor(b, 1:5)) / length(a)
  o <- sum(t * w); e <- sum(outer(rowSums(t), colSums(t)) * w); (o - e) / (1 - e) }
alpha <- function(a, b) { o <- table(factor(c(a, b), 1:5), factor(c(b, a), 1:5)); n <- rowSums(o)
  d <- outer(1:5, 1:5, Vectorize(function(i, j) { s <- min(i, j):max(i, j); (sum(n[s]) - (n[i] + n[j]) / 2)^2 }))
  1 - (sum(n) - 1) * sum(o * d) / sum(outer(n, n) * d) }
ac2 <- function(a, b, w) { p <- sapply(1:5, function(g) mean(((a == g) + (b == g)) / 2)); own <- w[cbind(a, b)]
  e <- sum(w) / 20 * sum(p * (1 - p)); (mean(own) - e) / (1 - e) }
a9 <- function(d) {
  a <- d$first_grade; b <- d$second_grade; w <- weights(5, 2); n <- length(a)
  v <- left_out(d, function(k) c(agreed(k$first_grade, k$second_grade, w), alpha(k$first_grade, k$second_grade), ac2(k$first_grade, k$second_grade, w)))
  # By the logarithm of disagreement, which turns the ends round.
  of <- function(b, v) { e <- log_jack(1 - b, 1 - v); c(b, 1 - e[2], 1 - e[1]) }
  put("A9.kappa", of(agreed(a, b, w), v[, 1]))
  put("A9.alpha", of(alpha(a, b), v[, 2]))
  put("A9.ac2", of(ac2(a, b, w), v[, 3]))
}

# --- A10: share with a condition among discordant canals less that among the others
a10 <- function(d) {
  apart <- as.numeric(round(abs(d$electronic - d$film), 2) > 1)
  b <- cr2(lm(d$wet ~ apart), d$patient); put("A10.difference", interval(b$b[2], b$se[2], b$df[2]))
  put("A10.discordant", sum(apart))
}

for (table_name in c("awkward", "demo")) {
  d <- read.csv(sprintf("tables/agreement_%s.csv", table_name), stringsAsFactors = FALSE)
  out[[table_name]] <- list()
  for (f in list(a1, a2, a3, a4, a5, a6, a7, a8, a10)) f(d)
  a9(if (table_name == "demo") read.csv("tables/agreement_demo_grades.csv") else d)
}
versions <- c(R = R.version.string, sapply(c("clubSandwich", "nlme", "lme4"), function(p) as.character(packageVersion(p))))
cat(toJSON(list(versions = as.list(versions), values = out), digits = 15, auto_unbox = TRUE, pretty = TRUE), "\n")
