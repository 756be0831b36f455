// Spares at one place, each re-ordered as it is taken: Poisson demand, a steady lead time, the oldest issued first.
// The same formulas as the command line's, in the same order (an empty shelf waits, or goes urgent).

function lnPoisson(k, mean) {
  let sum = k * Math.log(mean) - mean;
  for (let i = 2; i <= k; i++) sum -= Math.log(i);
  return sum;
}

// ln of the chance of at least `a` events where `mean` are expected.
function lnAtLeast(a, mean) {
  if (a === 0 || mean === Infinity) return 0;
  if (!(mean > 0)) return -Infinity;
  if (mean >= a + 1) {
    let fewer = 0;
    for (let k = 0; k < a; k++) fewer += Math.exp(lnPoisson(k, mean));
    return Math.log1p(-fewer);
  }
  let term = 1, sum = 1;
  for (let k = a + 1; term > 1e-17 * sum; k++) {
    term *= mean / k;
    sum += term;
  }
  return lnPoisson(a, mean) + Math.log(sum);
}

// Urgent supply where a lead time asks for at least as many seals as are held: figures in units of the Poisson
// probability of `stock` at the mean `due`, positive terms only.
function scarce(rate, due, out, stock) {
  const sums = (mean) => {
    let term = 1, mass = 0, held = 0;
    for (let k = stock - 1; k >= 0; k--) {
      term *= (k + 1) / mean;
      mass += term;
      held += (stock - (k * due) / mean) * term;
    }
    return { mass, held };
  };
  const here = sums(due);
  const gone = out === Infinity ? 0 : Math.exp(stock * Math.log(out / due) - (out - due));
  const later = gone === 0 ? { mass: 0, held: 0 } : sums(out);
  const arrived = Math.max(0, here.mass - gone * later.mass), whole = 1 + arrived;
  return { met: arrived / whole, waiting: 0, onHand: Math.max(0, here.held - gone * later.held) / whole,
    scrap: gone === 0 ? 0 : (rate * gone * stock) / out / whole };
}

// What `stock` seals give at `rate` demands a day.
function kept(rate, leadTime, usable, urgent, stock) {
  const due = rate * leadTime, out = usable === null ? Infinity : rate * (leadTime + usable);
  if (stock === 0) return { met: 0, waiting: urgent ? 0 : due, onHand: 0, scrap: 0 };
  if (urgent && due >= stock) return scarce(rate, due, out, stock);
  const ends = lnAtLeast(stock, out);
  const whole = urgent ? ends + Math.log1p(-Math.exp(lnAtLeast(stock + 1, due) - ends)) : ends;
  const share = (ln) => Math.exp(ln - whole);
  const below = share(lnAtLeast(stock, due));
  const arrived = Math.max(0, share(ends) - below);
  const earlier = Math.max(0, share(lnAtLeast(stock - 1, out)) - share(lnAtLeast(stock - 1, due)));
  const missed = urgent ? (due > 0 ? share(lnPoisson(stock, due)) : 0) : below;
  return {
    met: Math.max(0, 1 - missed),
    waiting: urgent ? 0 : Math.max(0, due * below - stock * share(lnAtLeast(stock + 1, due))),
    onHand: Math.max(0, stock * arrived - due * earlier),
    scrap: out === Infinity ? 0 : rate * share(lnPoisson(stock - 1, out)),
  };
}

// Money a day of a stock, beside what it gives.
function stockLevel(terms, rate, leadTime, downtimeCost, stock) {
  const level = kept(rate, leadTime, terms.usable, terms.urgent !== null, stock);
  const day = 24 * downtimeCost;
  const short = terms.urgent === null
    ? day * level.waiting
    : rate * (1 - level.met) * (terms.urgent.extra + terms.urgent.days * day);
  const orders = rate * (terms.urgent === null ? 1 : level.met) + level.scrap;
  const cost = terms.holding_per_day * level.onHand + short + orders * terms.order_cost + level.scrap * terms.unit_price;
  return { ...level, cost };
}
