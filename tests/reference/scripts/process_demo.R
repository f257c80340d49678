# Values of test_process_demo_against_r.py. Run in this folder: Rscript process_demo.R
# Ran with R 4.2.2, lme4 1.1-31, clubSandwich 0.5.8. Charts, funnel, Wilson with the design
# effect and CUSUM are written out here from their formulae, apart from the Python code.
suppressMessages({library(lme4); library(clubSandwich)})
show <- function(name, x) cat(name, ":", paste(formatC(x, digits = 12, format = "g"), collapse = ", "), "\n")
d <- read.csv("../tables/process_demo.csv")

# B1: share beyond, Wilson with n / (1 + ICC (sum m^2 / sum m - 1)), ICC by analysis of variance
clustered <- function(y, id) {
  g <- tapply(y, id, sum); m <- tapply(y, id, length); k <- length(m); N <- sum(m); p <- sum(g) / N
  msb <- sum(m * (g / m - p)^2) / (k - 1); msw <- sum(g * (1 - g / m)) / (N - k)
  n0 <- (N - sum(m^2) / N) / (k - 1); icc <- (msb - msw) / (msb + (n0 - 1) * msw)
  effect <- 1 + max(icc, 0) * (sum(m^2) / N - 1); n <- N / effect; z <- qnorm(.975)
  half <- z * sqrt(p * (1 - p) / n + z^2 / (4 * n^2))
  c(p, (p + z^2 / (2 * n) - half) / (1 + z^2 / n), (p + z^2 / (2 * n) + half) / (1 + z^2 / n), icc, effect)
}
show("B1 share lower upper icc effect", clustered(d$beyond, d$patient))

# B2: run chart of short by month
r <- as.vector(tapply(d$short, d$month, sum)); n <- as.vector(tapply(d$short, d$month, length)); x <- r / n
s <- (x - median(x))[x != median(x)] > 0
show("B2 useful run crossings limit fewest", c(length(s), max(rle(s)$lengths), sum(diff(s) != 0), round(log2(length(s)) + 3), qbinom(.05, length(s) - 1, .5)))

# B3: p and p' (doi:10.1081/QEN-120003555), cases between events (doi:10.1023/A:1011846412909)
charts <- function(r, n) {
  keep <- n > 0; r <- r[keep]; n <- n[keep]
  p <- sum(r) / sum(n); se <- sqrt(p * (1 - p) / n); z <- (r / n - p) / se; sz <- mean(abs(diff(z))) / 1.128
  c(p, sz, pmin(p + 3 * se, 1)[1], pmin(p + 3 * se * sz, 1)[1], pmax(p - 3 * se * sz, 0)[length(n)])
}
show("B3 demo centre sigma_z p' upper lower", charts(r, n))
show("B3 awkward", charts(c(0, 9, 3, 0, 2, 12, 1, 0, 4, 2, 6, 1), c(5, 9, 30, 0, 2, 80, 1, 4, 19, 3, 60, 1)))
mm <- c(-0.4, 0.1, NA, 0.3, 0.0, -0.5, 0.2, -0.1, 0.4, -0.3, 0.1, 7.0); u <- mm[!is.na(mm)]
mr <- mean(abs(diff(u))); show("B3 individuals awkward mean range lower upper", c(mean(u), mr, mean(u) - 3 * mr * sqrt(pi) / 2, mean(u) + 3 * mr * sqrt(pi) / 2))
g <- diff(c(0, which(d$beyond[order(d$month)][1:300] == 1))) - 1
show("B3 g events mean median upper", c(length(g), mean(g), median(g), mean(g) + 3 * sqrt(mean(g) * (mean(g) + 1))))

# B4: tail of each clinician against 0.10 over the last 12 months
e <- d[d$month > max(d$month) - 12, ]
k <- tapply(e$beyond, e$clinician, sum); m <- tapply(e$beyond, e$clinician, length)
show("B4 tails above", pbinom(k - 1, m, .10, lower.tail = FALSE)); show("B4 tails below", pbinom(k, m, .10))
exact <- function(n, t, p) { f <- pbinom(0:n, n, t); q <- qbinom(p, n, t); F <- pbinom(q, n, t); f1 <- pbinom(q - 1, n, t); min(max((q - (F - p) / (F - f1)) / n, 0), 1) }
show("B4 limits at n 7, target 0.02", sapply(c(.001, .025, .975, .999), function(p) exact(7, .02, p)))
show("B4 limits at n 266, target 0.85", sapply(c(.001, .025, .975, .999), function(p) exact(266, .85, p)))

# B5: case-mix without clinicians, observed / expected, random intercept with the offset
f <- glm(beyond ~ molar + retreatment + lesion + premolar + lesion_unknown, binomial, e, control = glm.control(epsilon = 1e-14, maxit = 100))
show("B5 coef", coef(f)); E <- tapply(fitted(f), e$clinician, sum); V <- tapply(fitted(f) * (1 - fitted(f)), e$clinician, sum)
show("B5 expected", E); show("B5 z", (k - E) / sqrt(V))
show("B5 poisson 95% of clinician 5", poisson.test(k[["5"]], E[["5"]])$conf.int)
e$o <- predict(f)
one <- function(rows, mean, s) log(integrate(function(u) sapply(u, function(v) exp(sum(dbinom(rows$beyond, 1, plogis(mean + rows$o + v), log = TRUE)) + shift[as.character(rows$clinician[1])])) * dnorm(u, 0, s), -8 * s, 8 * s, rel.tol = 1e-11, subdivisions = 2000)$value)
parts <- split(e, e$clinician); shift <- sapply(parts, function(rows) -sum(dbinom(rows$beyond, 1, plogis(rows$o), log = TRUE)))
nll <- function(t) -sum(sapply(parts, one, t[1], exp(t[2])))
b <- nlminb(c(0, log(.3)), nll, control = list(rel.tol = 1e-14, x.tol = 1e-10)); show("B5 mean sd", c(b$par[1], exp(b$par[2])))
l <- glmer(beyond ~ 1 + offset(o) + (1 | clinician), e, binomial, nAGQ = 25); show("B5 glmer mean sd (rough)", c(fixef(l), sqrt(VarCorr(l)$clinician[1])))

# B6: score of clinician 5 by the case-mix of all months, odds ratio 2 (doi:10.1093/biostatistics/1.4.441)
f <- glm(beyond ~ molar + retreatment + lesion + premolar + lesion_unknown, binomial, d, control = glm.control(epsilon = 1e-14, maxit = 100))
own <- d$clinician == 5; y <- d$beyond[own]; p <- fitted(f)[own]
w <- ifelse(y == 1, log(2 / (1 - p + 2 * p)), log(1 / (1 - p + 2 * p))); S <- Reduce(function(a, b) max(0, a + b), w, 0, accumulate = TRUE)[-1]
show("B6 last, largest, sum of scores, last VLAD", c(tail(S, 1), max(S), sum(S), sum(p - y)))

# B7: short before and after month 17, CR2 with Satterthwaite degrees of freedom
change <- function(y, after, id) {
  fit <- lm(y ~ after); t <- coef_test(fit, vcov = "CR2", cluster = id, test = "Satterthwaite")[2, ]
  df <- t[["df_Satt"]]; if (is.null(df)) df <- t[["df"]]
  c(t$beta, t$SE, df, t$beta + c(-1, 1) * qt(.975, df) * t$SE)
}
show("B7 demo change se df lower upper", change(d$short, as.numeric(d$month >= 17), d$patient))
y <- c(1,1,0,1,0,0,0,1,1,0,0,0,0,1,0,0,1,1,1,0,0,1,0,0,0,0); a <- c(0,0,1,1,0,0,1,0,0,1,0,1,1,0,1,0,0,1,0,1,1,0,1,0,1,1)
id <- c(1,1,1,1,2,2,2,3,4,4,5,5,5,6,7,8,8,8,9,10,10,11,11,12,12,12)
show("B7 awkward", change(y, a, id))
