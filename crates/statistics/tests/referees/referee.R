# Figures of R (packages base and stats, and nlme and survival for the kinds
# that name them) for the questions on standard input; the form of questions
# and answers is that of referee.py. Noncentral t is asked only where its
# algorithm holds.

answer <- function(case, ...) {
  values <- c(...)
  cat(paste(case, names(values), sprintf("%.17g", values), sep = ";"), sep = "\n")
}

kinds <- list(
  "tolerance factor" = function(n, content, confidence) {
    delta <- qnorm(content) * sqrt(n)
    if (delta > 30) return(NULL)
    c(factor = qt(confidence, n - 1, delta) / sqrt(n))
  },
  "distributions" = function(t, nu, f, d1, d2, x, b, a, c) c(
    "t cumulative" = pt(t, nu), "F survival" = pf(f, d1, d2, lower.tail = FALSE),
    "chi-squared survival" = pchisq(x, nu, lower.tail = FALSE),
    "beta quantile" = qbeta(b, a, c)),
  "proportion bounds" = function(hits, of, confidence) {
    exact <- binom.test(hits, of, conf.level = confidence)$conf.int
    score <- prop.test(hits, of, conf.level = confidence, correct = FALSE)$conf.int
    tail <- (1 - confidence) / 2
    c("exact lower" = exact[1], "exact upper" = exact[2],
      "Wilson lower" = score[1], "Wilson upper" = score[2],
      "Jeffreys lower" = qbeta(tail, hits + 0.5, of - hits + 0.5),
      "Jeffreys upper" = qbeta(1 - tail, hits + 0.5, of - hits + 0.5))
  },
  "normality" = function(values) {
    test <- shapiro.test(values)
    c("W" = unname(test$statistic), "W p" = test$p.value)
  },
  "order" = function(values) {
    n <- length(values)
    ties <- sum(choose(table(values), 2))
    tau <- cor(seq_len(n), values, method = "kendall")
    c("Kendall S" = tau * sqrt((choose(n, 2) - ties) * choose(n, 2)))
  },
  "grubbs" = function(values, alpha) {
    n <- length(values)
    critical <- function(tail) {
      t <- qt(tail, n - 2, lower.tail = FALSE)
      (n - 1) / sqrt(n) * sqrt(t^2 / (n - 2 + t^2))
    }
    c("G" = max(abs(values - mean(values))) / sd(values),
      "one-sided" = critical(alpha / n), "two-sided" = critical(alpha / (2 * n)))
  },
  "hit miss" = function(link, sizes, hits, of) {
    x <- log(sizes)
    result <- cbind(hits, of - hits)
    exactly <- glm.control(epsilon = 1e-14, maxit = 200)
    family <- binomial(link)
    fit <- glm(result ~ x, family, control = exactly)
    eta <- family$linkfun(0.9)
    tails <- switch(link,
      logit = list(hit = function(e) plogis(e, log.p = TRUE),
                   miss = function(e) plogis(e, lower.tail = FALSE, log.p = TRUE)),
      probit = list(hit = function(e) pnorm(e, log.p = TRUE),
                    miss = function(e) pnorm(e, lower.tail = FALSE, log.p = TRUE)),
      cloglog = list(hit = function(e) log(-expm1(-exp(e))), miss = function(e) -exp(e)))
    height <- function(a, b) sum(ifelse(hits > 0, hits * tails$hit(a + b * x), 0) +
                                 ifelse(of > hits, (of - hits) * tails$miss(a + b * x), 0))
    top <- height(coef(fit)[1], coef(fit)[2])
    # Loss of the curve pinned at (place, 0.9); glm itself may stop early here.
    rise <- function(place) {
      pinned <- optimize(function(b) height(eta - b * place, b), c(0, 4 * coef(fit)[2]),
                         maximum = TRUE, tol = 1e-12)
      2 * (top - pinned$objective) - qnorm(0.95)^2
    }
    best <- unname((eta - coef(fit)[1]) / coef(fit)[2])
    far <- best + 0.05
    while (rise(far) < 0 && far < best + 50) far <- best + 1.3 * (far - best)
    error <- unname(sqrt(diag(vcov(fit))))
    c("intercept" = unname(coef(fit)[1]), "slope" = unname(coef(fit)[2]),
      "intercept error" = error[1], "slope error" = error[2], "deviance" = deviance(fit),
      "a90" = exp(best),
      "a90/95 profile" = if (rise(far) < 0) NA else
        exp(uniroot(rise, c(best, far), tol = 1e-12)$root))
  },
  "several columns" = function(hits, of, first, second) {
    fit <- glm(cbind(hits, of - hits) ~ first + second, binomial,
               control = glm.control(epsilon = 1e-14, maxit = 200))
    error <- sqrt(diag(vcov(fit)))
    setNames(c(coef(fit), error), c("b0", "b1", "b2", "error 0", "error 1", "error 2"))
  },
  "line" = function(x, y, weights) {
    part <- function(name, fit) {
      s <- summary(fit)
      setNames(c(coef(fit), s$coefficients[2, 2], s$sigma),
               paste(name, c("intercept", "slope", "slope error", "residual sd")))
    }
    square <- summary(lm(y ~ x + I(x^2)))$coefficients
    c(part("plain", lm(y ~ x)), part("weighted", lm(y ~ x, weights = weights)),
      "slope p" = summary(lm(y ~ x))$coefficients[2, 4],
      "quadratic" = square[3, 1], "quadratic error" = square[3, 2])
  },
  "groups" = function(...) {
    values <- list(...)
    group <- factor(rep(seq_along(values), lengths(values)))
    y <- unlist(values)
    welch <- oneway.test(y ~ group)
    c("classical F" = unname(oneway.test(y ~ group, var.equal = TRUE)$statistic),
      "Welch F" = unname(welch$statistic), "Welch p" = welch$p.value,
      "Bartlett p" = bartlett.test(y, group)$p.value)
  },
  "nested" = function(outer, inner, y) {
    table <- anova(lm(y ~ factor(outer) / factor(inner)))
    setNames(table[["Mean Sq"]], c("outer", "inner", "residual"))
  },
  # Written out: the restricted likelihood of one random effect over matrices.
  "restricted" = function(...) {
    values <- list(...)
    group <- rep(seq_along(values), lengths(values))
    y <- unlist(values)
    same <- outer(group, group, "==") + 0
    one <- matrix(1, length(y))
    criterion <- function(logs) {
      v <- exp(logs[1]) * same + exp(logs[2]) * diag(length(y))
      inverse <- solve(v)
      information <- drop(t(one) %*% inverse %*% one)
      mean <- drop(t(one) %*% inverse %*% y) / information
      rest <- y - mean
      (length(y) - 1) * log(2 * pi) + as.numeric(determinant(v)$modulus) +
        log(information) + drop(t(rest) %*% inverse %*% rest)
    }
    best <- optim(log(rep(var(y) / 2, 2)), criterion, control = list(reltol = 1e-15, maxit = 4000))
    best <- optim(best$par, criterion, control = list(reltol = 1e-15, maxit = 4000))
    c("between" = exp(best$par[1]), "within" = exp(best$par[2]), "criterion" = best$value)
  },
  "equivalence" = function(first, second, margin) {
    worse <- function(...) max(
      t.test(first, second, mu = -margin, alternative = "greater", ...)$p.value,
      t.test(first, second, mu = margin, alternative = "less", ...)$p.value)
    c("paired p" = worse(paired = TRUE), "groups p" = worse())
  },
  "nested likelihood" = function(outer, inner, y) {
    table <- data.frame(y, outer = factor(outer), inner = factor(inner))
    exactly <- nlme::lmeControl(maxIter = 500, msMaxIter = 500, tolerance = 1e-12, msTol = 1e-12)
    fit <- nlme::lme(y ~ 1, table, random = ~ 1 | outer/inner, method = "REML", control = exactly)
    own <- as.matrix(fit$modelStruct$reStruct$inner)[1] * fit$sigma^2
    above <- as.matrix(fit$modelStruct$reStruct$outer)[1] * fit$sigma^2
    c("outer" = above, "inner" = own, "residual" = fit$sigma^2,
      "mean" = unname(nlme::fixef(fit)), "criterion" = -2 * as.numeric(logLik(fit)))
  },
  "censored line" = function(x, value, state) {
    low <- ifelse(state < 0, NA, value)
    high <- ifelse(state > 0, NA, value)
    exactly <- survival::survreg.control(maxiter = 200, rel.tolerance = 1e-13)
    fit <- survival::survreg(survival::Surv(low, high, type = "interval2") ~ x,
                             dist = "gaussian", control = exactly)
    c("intercept" = unname(coef(fit)[1]), "slope" = unname(coef(fit)[2]), "scatter" = fit$scale,
      "log-likelihood" = fit$loglik[2])
  },
  "power" = function(n, effect, alpha) c(
    "power" = power.t.test(n, effect, 1, alpha, type = "one.sample", strict = TRUE)$power)
)

for (question in readLines(file("stdin"))) {
  cells <- strsplit(question, ";", fixed = TRUE)[[1]]
  method <- kinds[[cells[1]]]
  if (is.null(method)) next
  lists <- lapply(strsplit(cells[3], "|", fixed = TRUE)[[1]], function(text) {
    words <- strsplit(trimws(text), " +")[[1]]
    numbers <- suppressWarnings(as.numeric(words))
    if (anyNA(numbers)) words else numbers
  })
  values <- do.call(method, lists)
  if (!is.null(values)) answer(cells[2], values[!is.na(values)])
}
