// Opens a report in headless Chromium as its readers do and fails on what they must not meet.
// Usage: node check.mjs REPORT.html SEALSPAN STUDY.toml FOLDER
// Screenshots go to FOLDER.
import { execFileSync } from "node:child_process";
import { mkdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import path from "node:path";
import { chromium } from "playwright-core";

const [report, sealspan, study, folder] = process.argv.slice(2).map((p) => path.resolve(p));
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
mkdirSync(folder, { recursive: true });

const failures = [];
function check(good, what) {
  if (!good) failures.push(what);
}
// "EUR 194,639" within half a unit of its last digit.
function shown(text, value, what) {
  const [, number] = text.match(/(\d[\d,]*(?:\.\d+)?)/) || [];
  const digits = (number?.split(".")[1] || "").length;
  const far = Math.abs(Number(number?.replaceAll(",", "")) - value);
  check(far <= 0.5000001 * 10 ** -digits, `${what}: the page shows ${text}, the command line ${value}`);
}
const answer = (args) => JSON.parse(execFileSync(sealspan, [...args, "--format", "json"], { maxBuffer: 1 << 28 }));

const browser = await chromium.launch({
  executablePath: "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync"],
});

async function open(options) {
  const context = await browser.newContext(options);
  const page = await context.newPage();
  page.on("console", (m) => check(false, `console: ${m.text()}`));
  page.on("pageerror", (e) => check(false, `script: ${e.message}`));
  page.on("request", (r) => check(r.url().startsWith("file:"), `request: ${r.url()}`));
  await page.goto(`file://${report}`);
  return page;
}

async function audit(page, name) {
  // The page's policy lets no other script in: the audit runs outside it, by the debugger.
  await page.evaluate(axe);
  const result = await page.evaluate(() => axe.run(document, { resultTypes: ["violations"] }));
  for (const v of result.violations.filter((v) => ["serious", "critical"].includes(v.impact))) {
    check(false, `accessibility, ${name}: ${v.id} (${v.help}) at ${v.nodes.slice(0, 3).map((n) => n.target).join(", ")}`);
  }
}

const text = (page, name) => page.locator(`#what-if-${name}`).textContent();

// Laptop: every control, the command line's own figures, read-outs by pointer and keys.
const laptop = await open({ viewport: { width: 1280, height: 800 } });
for (const title of ["For the engineer", "For finance", "For the maker", "Evidence"]) {
  check(await laptop.getByRole("heading", { name: title, level: 2 }).isVisible(), `missing page: ${title}`);
}
await laptop.screenshot({ path: `${folder}/laptop.png` });
await audit(laptop, "light");

const control = (name) => laptop.locator(`#what-if-${name}`);
async function changes(name, act, outputs) {
  const before = await Promise.all(outputs.map((o) => text(laptop, o)));
  await act(control(name));
  const after = await Promise.all(outputs.map((o) => text(laptop, o)));
  outputs.forEach((o, i) => check(before[i] !== after[i], `changing ${name} leaves ${o} as it was`));
}
const choose = (index) => (select) => select.selectOption({ index });
const type = (value) => (input) => input.fill(String(value));

async function agreesWithCare(what) {
  const command = (await text(laptop, "command")).split(" ").slice(3);
  const part = await control("part").evaluate((s) => s.options[s.selectedIndex].text);
  const found = answer(["care", study, ...command]).groups.find((g) => Object.values(g.group).includes(part) || g.group === part);
  const cost = await text(laptop, "cost");
  shown(cost.match(/\((\D*[\d.,]+) per day/)[1], found.plan.then.mean, `${what}, per day`);
  const positions = Number(cost.match(/, ([\d,]+) positions/)[1].replaceAll(",", ""));
  shown(cost.match(/: (\D*[\d.,]+) per year/)[1], found.plan.then.mean * positions * 365.25, `${what}, per year`);
  const today = (await text(laptop, "more")).match(/comes to (\D*[\d.,]+) per year/);
  if (today && !found.plan.against_counts) {
    shown(today[1], found.plan.today.now.mean * positions * 365.25, `${what}, today's practice`);
  }
}
async function agreesWithStock(what) {
  const [place] = answer((await text(laptop, "stock-command")).split(" ").slice(1)).places;
  const level = place.levels[Number(await control("spares").inputValue())];
  const shownCost = (await text(laptop, "stock")).match(/and (\D*[\d.,]+) of stock cost/)[1];
  shown(shownCost, level.cost_rate * 365.25, `${what}, cost of stock`);
}

const plan = await text(laptop, "cost");
await agreesWithCare("the plan");
await agreesWithStock("the plan");
await changes("hour", type(900), ["cost", "more", "fleet", "stock", "command", "stock-command"]);
await changes("failure", type(12000), ["cost", "more", "fleet", "command"]);
await changes("look", choose(3), ["cost", "more", "fleet", "stock", "command"]);
await changes("age", choose(4), ["cost", "more", "fleet", "stock", "command"]);
await changes("lead", type(45), ["stock", "stock-command"]);
await changes("spares", type(1), ["stock"]);
await changes("place", choose(1), ["stock", "stock-command"]);
await agreesWithCare("changed prices and intervals");
await agreesWithStock("changed stock");
await laptop.locator("#what-if").scrollIntoViewIfNeeded();
await laptop.locator("#what-if").screenshot({ path: `${folder}/laptop-what-if.png` });
await control("hour").fill("-5");
check((await control("hour").getAttribute("aria-invalid")) === "true", "a negative price is not marked as wrong");
check(!(await text(laptop, "cost")).includes("not a number"), "a wrong price makes nonsense");
check((await text(laptop, "wrong")).includes("hour down"), "a wrong price is not named");
await control("spares").fill("");
check(!(await text(laptop, "stock")).includes(" 0 held"), "a cleared number of spares is taken for none");
await control("reset").click();
check((await text(laptop, "cost")) === plan, "back to the plan does not lead back");
for (const part of [1, 2, 3]) {
  await changes("part", choose(part), ["cost", "more", "stock"]);
  await agreesWithCare(`part ${part}`);
  await agreesWithStock(`part ${part}`);
}

const figure = laptop.locator("#survival .wide");
await figure.scrollIntoViewIfNeeded();
const box = await figure.boundingBox();
await laptop.mouse.move(box.x + box.width * 0.4, box.y + box.height * 0.3);
const pointed = await figure.locator(".tip").textContent();
check(/: share still sound [\d.]+ at age [\d.,]+\sdays/.test(pointed), `read-out by pointer: ${pointed}`);
await figure.screenshot({ path: `${folder}/laptop-read-out.png` });
await laptop.mouse.move(2, 2);
await figure.focus();
await laptop.keyboard.press("ArrowRight");
const first = await figure.locator(".tip").textContent();
await laptop.keyboard.press("ArrowRight");
check(first !== (await figure.locator(".tip").textContent()), "the arrow keys do not step through a figure");
const silent = await laptop.locator("figure:not(:has(script.points)):not(#door-wear)").count();
check(silent === 0, `${silent} figures have no read-outs`);

// One page printed alone: the others are left out of the print, and stand again after it.
await laptop.evaluate(() => { window.print = () => { window.printed = true; }; });
await laptop.emulateMedia({ media: "print" });
const shownPages = () => laptop.evaluate(() => [...document.querySelectorAll(".page")].filter((p) => p.checkVisibility()).map((p) => p.id));
const every = await shownPages();
await laptop.emulateMedia({ media: "screen" });
await laptop.locator("#finance .print").click();
await laptop.emulateMedia({ media: "print" });
check(await laptop.evaluate(() => window.printed === true), "the button does not print");
check((await shownPages()).join() === "finance", `printed alone: ${await shownPages()}`);
await laptop.evaluate(() => window.dispatchEvent(new Event("afterprint")));
check(every.length === 4 && (await shownPages()).join() === every.join(), "pages stay hidden after one was printed");
await laptop.emulateMedia({ media: null });

// Dark, phone, print.
const dark = await open({ viewport: { width: 1280, height: 800 }, colorScheme: "dark" });
await audit(dark, "dark");
await dark.screenshot({ path: `${folder}/dark.png` });

const phone = await open({ viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
const wide = await phone.evaluate(() => document.documentElement.scrollWidth);
check(wide <= 390, `the page is ${wide} pixels wide on a phone`);
await phone.screenshot({ path: `${folder}/phone.png` });
await phone.locator("#what-if").screenshot({ path: `${folder}/phone-what-if.png` });
await audit(phone, "phone");

for (const format of ["A4", "Letter"]) {
  await laptop.pdf({ path: `${folder}/report-${format}.pdf`, format, preferCSSPageSize: false });
}
await browser.close();

if (failures.length > 0) {
  console.error(failures.map((f) => `- ${f}`).join("\n"));
  process.exit(1);
}
console.log("browser: controls, read-outs, command line's figures, one page printed alone, accessibility, phone, dark and print hold");
