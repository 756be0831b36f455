// The demo's records with names that try to do something, through `sealspan report`, opened in headless Chromium:
// every name is shown as it is and none of them does anything.
// Usage: node hostile.mjs SEALSPAN STUDY.toml FOLDER
import { execFileSync } from "node:child_process";
import { mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import path from "node:path";
import { chromium } from "playwright-core";

const [sealspan, study, folder] = process.argv.slice(2).map((p) => path.resolve(p));
const records = path.join(folder, "hostile-records"), out = path.join(folder, "hostile");
rmSync(records, { recursive: true, force: true });
mkdirSync(records, { recursive: true });

const names = {
  "MG450-E70": '</script><script>window.struck = "part"</script>',
  "Harrow Lane": "<img src=x onerror='window.struck=1'> Harrow",
  "Copper Yard": '=HYPERLINK("https://example.invalid","Copper")',
  "Tern Quay": "Tern\nQuay 🛢️ 漢字",
  "Long Barn": "\u202eLong\u200f Barn",
  "Ashpit Row": `Ashpit ${"long ".repeat(2000)}end`,
  "EPDM-222": '" autofocus onfocus="window.struck=1',
  "dry hopped": "{{ 7*7 }} ]]> --> dry",
  "HL1-T17": "HL1</title></style><svg onload=window.struck=1>T17",
};
// The demo's own tables hold no quotes, so a comma ends a cell.
const cell = (text) => (/[",\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text);
const renamed = (text) => cell(Object.hasOwn(names, text) ? names[text] : text);
for (const table of ["seals", "inspections", "assets"]) {
  const lines = readFileSync(path.join(path.dirname(study), `${table}.csv`), "utf8").trimEnd().split("\n");
  writeFileSync(path.join(records, `${table}.csv`), lines.map((l) => l.split(",").map(renamed).join(",")).join("\n") + "\n");
}
writeFileSync(path.join(records, "study.toml"), readFileSync(study, "utf8")
  .replace(/^lab = .*$/m, "").replace('by = ["material"]', 'by = ["part_no"]').replace(/\[ageing\][\s\S]*$/, ""));
execFileSync(sealspan, ["report", path.join(records, "study.toml"), "--out", out], { stdio: ["ignore", "ignore", "inherit"] });

const browser = await chromium.launch({ executablePath: "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"] });
const failures = [];
const page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
page.on("console", (m) => failures.push(`console: ${m.text()}`));
page.on("pageerror", (e) => failures.push(`script: ${e.message}`));
page.on("dialog", (d) => failures.push(`dialog: ${d.message()}`));
page.on("request", (r) => r.url().startsWith("file:") || failures.push(`request: ${r.url()}`));
await page.goto(`file://${path.join(out, "report.html")}`);
if (await page.evaluate(() => window.struck)) failures.push("a name was run as a script");
const seen = await page.evaluate(() => document.body.textContent);
const options = await page.locator("#what-if option").allTextContents();
const everything = seen + options.join("\n");
for (const [plain, name] of Object.entries(names)) {
  // Texts in drawings hold no line breaks; anywhere else a name stands as it is.
  if (!everything.includes(name)) failures.push(`the page does not show ${plain} as ${JSON.stringify(name.slice(0, 60))}`);
}
if (!options.includes(names["MG450-E70"])) failures.push("the controls do not offer the hostile part");
await page.locator("#what-if-part").selectOption({ label: names["MG450-E70"] });
if (!(await page.locator("#what-if-cost").textContent()).startsWith(names["MG450-E70"])) failures.push("the controls do not name the part");
const strange = await page.locator("img, iframe, object, embed, [onload], [onerror], [onfocus]").count();
if (strange > 0) failures.push(`${strange} elements came out of names`);
const wide = await page.evaluate(() => document.documentElement.scrollWidth);
if (wide > 1280) failures.push(`long names make the page ${wide} pixels wide`);
await page.screenshot({ path: path.join(folder, "hostile.png") });
await browser.close();

if (failures.length > 0) {
  console.error(failures.map((f) => `- ${f}`).join("\n"));
  process.exit(1);
}
console.log("browser: hostile names are shown and do nothing");
