# Independent values for tests/reference/test_process_cross_check.py.
# Run: Rscript tests/reference/scripts/process_cross_check.R   (R 4.2.2, metafor 3.8-1)
suppressPackageStartupMessages(library(metafor))
show <- function(name, x) cat(name, sprintf("%.10g", x), "\n")

# Six sites whose variances differ by a factor of 450.
y <- c(0.90, -0.30, 0.15, 1.60, 0.05, -0.80)
v <- c(0.50, 0.010, 0.20, 0.90, 0.030, 0.0020)
strict <- list(threshold = 1e-12, maxiter = 1000)
for (test in c("adhoc", "knha", "z")) {
  m <- rma(y, v, method = "REML", test = test, control = strict)
  show(paste("REML", test, "est se lb ub tau2 I2 pi.lb pi.ub p"),
       c(m$b, m$se, m$ci.lb, m$ci.ub, m$tau2, m$I2, predict(m)$pi.lb, predict(m)$pi.ub, m$pval))
}
show("Q-profile", confint(m, control = list(tol = 1e-12))$random[1, 2:3])
for (method in c("DL", "ML", "PM")) {
  m <- rma(y, v, method = method, test = "adhoc", control = strict)
  show(paste(method, "adhoc est se tau2"), c(m$b, m$se, m$tau2))
}

# Eight units from 1 to 75 cases, three of them without an event.
y <- c(0, 1, 0, 14, 3, 40, 2, 0)
n <- c(3, 5, 1, 20, 60, 75, 2, 11)
nll <- function(t) {
  a <- exp(t[1]); b <- exp(t[2])
  -sum(lchoose(n, y) + lbeta(a + y, b + n - y) - lbeta(a, b))
}
f <- optim(c(0, 0), nll, control = list(reltol = 1e-15, maxit = 1e5))
f <- nlminb(f$par, nll, control = list(rel.tol = 1e-15, x.tol = 1e-12))
show("beta-binomial alpha beta loglik", c(exp(f$par), -f$objective))

one <- function(y, n, m, s) log(integrate(function(u)
  exp(dbinom(y, n, plogis(m + u), log = TRUE) + dnorm(u, 0, s, log = TRUE)),
  -12 * s, 12 * s, rel.tol = 1e-12, subdivisions = 5000)$value)
nll <- function(t) -sum(mapply(one, y, n, t[1], exp(t[2])))
f <- optim(c(-1, 0), nll, control = list(reltol = 1e-14, maxit = 1e4))
show("logit-normal mu sigma loglik", c(f$par[1], exp(f$par[2]), -f$value))

show("poisson 7 / 4.25", poisson.test(7, 4.25)$conf.int)
