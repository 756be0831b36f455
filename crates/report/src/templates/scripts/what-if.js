// Other prices, intervals and stocks: everything follows from the run's own table of events per position and unit of
// time under each policy, which stands in the page.
(() => {
  const section = document.getElementById("what-if");
  if (!section) return;
  const data = JSON.parse(document.getElementById("what-if-data").textContent);
  const at = (name) => document.getElementById("what-if-" + name);
  const say = (name, text) => put(at(name), text);
  const field = { hour: at("hour"), failure: at("failure"), part: at("part"), look: at("look"), age: at("age"),
    place: at("place"), lead: at("lead"), spares: at("spares") };

  // Money of one position per unit of time; the order of events is that of the table.
  function rate(events, prices) {
    const hour = prices.downtime_cost;
    const planned = prices.planned_cost + prices.planned_hours * hour;
    const failure = prices.failure_cost + prices.failure_hours * hour;
    const each = [planned, failure, planned, planned, prices.opening_hours * hour, prices.look_cost, prices.turn_cost,
      prices.planned_cost];
    return events.reduce((sum, often, i) => sum + often * each[i], 0);
  }

  const hours = (events, p) => events[1] * p.failure_hours + (events[0] + events[2] + events[3]) * p.planned_hours
    + events[4] * p.opening_hours;
  const cash = (amount) => amount < 0 ? "\u2212" + money(-amount, data.currency) : money(amount, data.currency);
  const gain = (amount) => amount < 0 ? `${cash(-amount)} more` : `${cash(amount)} less`;
  const care = (part, look, age) => [part.looks[look].every === null ? "" : "looked at " + part.looks[look].words,
    part.turned ? "turned every " + part.turned : "", "replaced " + part.looks[look].ages[age].words]
    .filter(Boolean).join(", ");
  const plain = (value) => String(Number(value.toPrecision(12)));
  const never = (value) => value === null ? "never" : plain(value);

  // A number that the reader typed; for a wrong one the run's own stands, which is said.
  function number(input, fallback) {
    const value = input.valueAsNumber;
    const good = Number.isFinite(value) && input.validity.valid;
    input.setAttribute("aria-invalid", String(!good));
    return good ? value : fallback;
  }

  function showWrong() {
    const wrong = Object.values(field).filter((input) => input && input.getAttribute("aria-invalid") === "true");
    const say1 = (input) => `${input.labels[0].firstChild.textContent.trim()}: a${input.step === "1" ? " whole" : ""} number from ${input.min} to ${input.max}`;
    say("wrong", wrong.length ? `Not usable, so this run's own value is taken: ${wrong.map(say1).join("; ")}.` : "");
  }

  function fill(select, words) {
    select.replaceChildren(...words.map((text, i) => new Option(text, String(i))));
  }

  function chosen() {
    const part = data.parts[field.part.selectedIndex];
    return { part, look: field.look.selectedIndex, age: field.age.selectedIndex };
  }

  // Prices as typed; the seal of a part may cost more or less than the usual one.
  function prices(part) {
    return { ...data.prices, downtime_cost: number(field.hour, data.prices.downtime_cost),
      planned_cost: Math.max(0, data.prices.planned_cost + part.dearer),
      failure_cost: Math.max(0, number(field.failure, data.prices.failure_cost) + part.dearer) };
  }

  function shelf(part) {
    const price = data.stock.unit_price + part.dearer;
    return { ...data.stock, unit_price: price, holding_per_day: data.stock.holding_per_day * price / data.stock.unit_price };
  }

  function cheapest(part, p) {
    let best = null;
    part.looks.forEach((row, look) => row.ages.forEach((policy, age) => {
      const cost = rate(policy.mean, p);
      if (!best || cost < best.cost) best = { cost, look, age };
    }));
    return best;
  }

  function showCost() {
    const { part, look, age } = chosen(), p = prices(part);
    const events = part.looks[look].ages[age].mean;
    const per = data.units * part.positions, cost = rate(events, p);
    say("cost", `${part.name}, ${fixed(part.positions, 0)} positions, ${care(part, look, age)}: ${cash(cost * per)} per ${data.per} (${cash(cost)} per ${data.unit} and position).`);
    const today = part.today === null ? "" : ` Today's practice at these prices comes to ${cash(rate(part.today, p) * per)} per ${data.per}: ${gain((rate(part.today, p) - cost) * per)}.`;
    const best = cheapest(part, p);
    const same = best.look === look && best.age === age;
    const advice = same ? " Of all policies in the table this one costs least at these prices."
      : ` Least at these prices is: ${care(part, best.look, best.age)}, ${cash(best.cost * per)} per ${data.per}.`;
    say("more", `That is ${times(events[1] * per)} failures, ${times((events[0] + events[1] + events[2] + events[3] + events[7]) * per)} seals, ${times(events[5] * per)} looks and ${times(hours(events, p) * per)} hours down per ${data.per}.${today}${advice}`);
    say("command", `sealspan care STUDY --downtime-cost ${plain(p.downtime_cost)} --failure-cost ${plain(p.failure_cost - part.dearer)} --inspect-every ${never(part.looks[look].every)} --turn-every ${never(part.turn_every)} --replace-at ${never(part.looks[look].ages[age].at)}`);
  }

  function showFleet() {
    const { part, look, age } = chosen();
    let now = 0, then = 0, known = true;
    for (const each of data.parts) {
      const [l, a] = each === part ? [look, age] : each.plan, p = prices(each);
      then += rate(each.looks[l].ages[a].mean, p) * each.positions * data.units;
      if (each.today === null) known = false; else now += rate(each.today, p) * each.positions * data.units;
    }
    const others = data.parts.length > 1 ? ", the other parts under the plan" : "";
    const saved = known ? ` against ${cash(now)} as cared for today: ${gain(now - then)}` : "";
    say("fleet", `All parts${others}: ${cash(then)} per ${data.per}${saved}.`);
  }

  // Seals taken without warning per day at the place chosen.
  function demand() {
    const { part, look, age } = chosen(), at = field.place.selectedIndex, place = part.places[at];
    return place ? part.looks[look].ages[age].unplanned[at] * place[1] : 0;
  }

  function leastStock(perDay, lead, hour) {
    const cost = (stock) => stockLevel(shelf(chosen().part), perDay, lead, hour, stock).cost;
    let best = 0;
    while (perDay > 0 && best < 500 && cost(best + 1) < cost(best)) best++;
    return best;
  }

  function showStock() {
    if (!field.place) return;
    const { part } = chosen(), terms = shelf(part), hour = prices(part).downtime_cost, perDay = demand();
    const place = part.places[field.place.selectedIndex];
    if (!(perDay > 0)) {
      say("stock", `${place ? place[0] : "No place"}: no seal is taken without warning, so no spare is needed.`);
      say("stock-command", "");
      return;
    }
    const lead = number(field.lead, terms.lead_time), year = data.units;
    const best = leastStock(perDay, lead, hour), spares = number(field.spares, best);
    const here = stockLevel(terms, perDay, lead, hour, spares);
    const late = terms.urgent === null ? `${times(here.waiting * 24 * year)} hours of waiting`
      : `${times(perDay * (1 - here.met) * year)} urgent orders`;
    const least = best === spares ? "No other number costs less"
      : `${fixed(best, 0)} cost least, ${cash(stockLevel(terms, perDay, lead, hour, best).cost * year)}`;
    say("stock", `${place[0]}, ${part.name}: ${fixed(spares, 0)} held and ${tidy(lead)} days to deliver, against ${times(perDay * year)} seals taken without warning per ${data.per}: ${percent(here.met)} met at once, ${late} and ${cash(here.cost * year)} of stock cost per ${data.per}. ${least}, each re-ordered as it is taken; where the advice orders several at once it costs less still.`);
    const short = terms.urgent === null ? `--shortage backorder --shortage-cost ${plain(24 * hour)}`
      : `--shortage urgent --shortage-cost ${plain(terms.urgent.extra + 24 * hour * terms.urgent.days)}`;
    const kept = terms.usable === null ? "" : ` --shelf-life ${plain(terms.usable)}`;
    say("stock-command", `sealspan stock --demand-rate ${plain(perDay)} --lead-time ${plain(lead)} --holding-cost ${plain(terms.holding_per_day)} --order-cost ${plain(terms.order_cost)} --unit-price ${plain(terms.unit_price)} ${short}${kept}`);
  }

  function show() { showCost(); showFleet(); showStock(); showWrong(); }

  // Ages go with looks: a seal is replaced at a visit. The age nearest to the one last asked for is taken.
  let wanted = null;
  function ages() {
    const { part, look } = chosen(), list = part.looks[look].ages;
    fill(field.age, list.map((a) => a.words));
    const far = (a) => wanted === a.at ? -1 : wanted === null || a.at === null ? Infinity : Math.abs(a.at - wanted);
    let nearest = 0;
    list.forEach((a, i) => { if (far(a) < far(list[nearest])) nearest = i; });
    field.age.selectedIndex = nearest;
  }

  function partChanged() {
    const part = data.parts[field.part.selectedIndex], [look, age] = part.plan;
    wanted = part.looks[look].ages[age].at;
    fill(field.look, part.looks.map((row) => row.words));
    field.look.selectedIndex = look;
    ages();
    if (field.place) fill(field.place, part.places.map(([name, n]) => `${name} (${fixed(n, 0)} positions)`));
    placeChanged();
  }

  // Another place or part begins with the number that costs least there.
  function placeChanged() {
    if (!field.place) return;
    const lead = number(field.lead, data.stock.lead_time);
    field.spares.valueAsNumber = leastStock(demand(), lead, prices(chosen().part).downtime_cost);
  }

  function ageChanged() {
    const { part, look, age } = chosen();
    wanted = part.looks[look].ages[age].at;
  }

  function reset() {
    field.hour.valueAsNumber = data.prices.downtime_cost;
    field.failure.valueAsNumber = data.prices.failure_cost;
    if (field.place) field.lead.valueAsNumber = data.stock.lead_time;
    partChanged();
    show();
  }

  fill(field.part, data.parts.map((part) => part.name));
  field.part.selectedIndex = data.parts.reduce((most, part, i) => part.positions > data.parts[most].positions ? i : most, 0);
  const first = { part: partChanged, look: ages, age: ageChanged, place: placeChanged };
  for (const [name, input] of Object.entries(field)) {
    if (input) input.addEventListener("input", () => { (first[name] || (() => {}))(); show(); });
  }
  at("reset").addEventListener("click", reset);
  reset();
  section.hidden = false;
})();
