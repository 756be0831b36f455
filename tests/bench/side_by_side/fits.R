# Fits by survreg and survfit of the recommended package survival; one JSON line each: name, seconds of processor, answers.
suppressMessages(library(survival))
folder <- commandArgs(trailingOnly = TRUE)[1]
read <- function(name) read.csv(file.path(folder, paste0(name, ".csv")))
# A task is repeated until it can be timed; the best of three counts.
say <- function(name, task) {
  times <- numeric(0)
  repeats <- ceiling(0.3 / max(0.001, system.time(task())[["user.self"]]))
  for (i in 1:3) {
    took <- system.time(for (j in seq_len(repeats)) answer <- task())
    times <- c(times, (took[["user.self"]] + took[["sys.self"]]) / repeats)
  }
  cat(sprintf('{"name": "%s", "seconds": %.6f, "answer": [%s]}\n', name, min(times),
              paste(sprintf("%.15g", answer), collapse = ", ")))
}
for (size in c("2000", "100000")) {
  lives <- read(paste0("lives-", size))
  seen <- Surv(lives$time, lives$status == "failed")
  say(paste("weibull", size), function() {
    f <- survreg(seen ~ 1, dist = "weibull")
    c(1 / f$scale, exp(coef(f)[[1]]), f$loglik[1])
  })
  say(paste("lognormal", size), function() {
    f <- survreg(seen ~ 1, dist = "lognormal")
    c(coef(f)[[1]], f$scale, f$loglik[1])
  })
  say(paste("regression", size), function() {
    f <- survreg(seen ~ lives$site, dist = "weibull")
    c(coef(f)[-1], f$scale, f$loglik[2])
  })
}
lives <- read("lives-2000")
seen <- Surv(lives$time, lives$status == "failed")
fitted <- survreg(seen ~ 1, dist = "weibull")
set.seed(1)
# 200 refits, extrapolated by the reader.
say("refits of 200", function() {
  shape <- 1 / fitted$scale
  scale <- exp(coef(fitted)[[1]])
  for (i in 1:200) {
    life <- rweibull(200, shape, scale)
    censored <- runif(200, 0, 2000)
    survreg(Surv(pmin(life, censored), life <= censored) ~ 1, dist = "weibull")
  }
  200
})
looks <- read("looks-2000")
say("interval curve 2000", function() {
  f <- survfit(Surv(lower, ifelse(is.na(upper), Inf, upper), type = "interval2") ~ 1, data = looks)
  summary(f, times = c(300, 600, 900, 1200))$surv
})
