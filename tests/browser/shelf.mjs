// The page's own stock formulas against the command line's, over demands, lead times, shelf lives and both meanings
// of an empty shelf. Usage: node shelf.mjs SEALSPAN SCRIPTS_FOLDER
import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import path from "node:path";
import vm from "node:vm";

const [sealspan, scripts] = process.argv.slice(2).map((p) => path.resolve(p));
const page = vm.createContext({ Math, Infinity });
vm.runInContext(readFileSync(path.join(scripts, "shelf.js"), "utf8"), page);

const failures = [];
let compared = 0;
for (const [rate, lead] of [[0.002, 6], [0.05, 40], [0.4, 30], [3, 21]]) {
  for (const usable of [null, 90, 2555]) {
    for (const urgent of [null, { extra: 57, days: 1 }]) {
      const terms = { holding_per_day: 0.02, order_cost: 25, unit_price: 38, usable, urgent };
      const hour = 270, short = urgent === null ? 24 * hour : urgent.extra + 24 * hour * urgent.days;
      const args = ["stock", "--demand-rate", rate, "--lead-time", lead, "--holding-cost", 0.02, "--order-cost", 25, "--unit-price", 38,
        "--shortage", urgent === null ? "backorder" : "urgent", "--shortage-cost", short, ...(usable === null ? [] : ["--shelf-life", usable])];
      const { levels } = JSON.parse(execFileSync(sealspan, [...args.map(String), "--format", "json"], { maxBuffer: 1 << 28 })).places[0];
      for (const level of levels) {
        const mine = page.stockLevel(terms, rate, lead, hour, level.stock);
        const pairs = [["cost", mine.cost, level.cost_rate], ["met", mine.met, level.fill_rate], ["waiting", mine.waiting, level.expected_backorders],
          ["on hand", mine.onHand, level.expected_on_hand]];
        for (const [name, got, want] of pairs) {
          compared++;
          if (!(Math.abs(got - want) <= 1e-9 * Math.max(1, Math.abs(want)))) failures.push(`${args.join(" ")}, ${level.stock} held, ${name}: ${got} against ${want}`);
        }
      }
    }
  }
}
if (failures.length > 0 || compared < 500) {
  console.error(failures.slice(0, 20).join("\n") || `only ${compared} figures compared`);
  process.exit(1);
}
console.log(`browser: ${compared} figures of stocks agree with the command line`);
