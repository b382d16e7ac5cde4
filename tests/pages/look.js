// Opens every page of a folder in a browser and says what is wrong with it.

import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const folder = resolve(process.argv[2]);
const papers = ["A4", "Letter"];
// A page is printed with the margins of its own @page rule.
const printed = { preferCSSPageSize: false, printBackground: true };

/** Leaf pages of a PDF: objects of the type Page, as against Pages. */
function pages(pdf) {
  return (pdf.toString("latin1").match(/\/Type\s*\/Page[^s]/g) ?? []).length;
}

async function look(browser, name) {
  const faults = [];
  const page = await browser.newPage({ viewport: { width: 1000, height: 1200 } });
  page.on("console", (message) => {
    if (message.type() === "error" || message.type() === "warning") faults.push(`console: ${message.text()}`);
  });
  page.on("pageerror", (error) => faults.push(`error: ${error.message}`));
  page.on("request", (request) => {
    if (!request.url().startsWith("file:")) faults.push(`reaches out for ${request.url()}`);
  });
  await page.goto(pathToFileURL(join(folder, `${name}.html`)).href);
  for (const [scale, label] of [[1, ""], [0.5, "-half"]]) {
    await page.setViewportSize({ width: Math.round(1000 * scale), height: 1200 });
    await page.screenshot({ path: join(folder, `${name}${label}.png`), fullPage: true });
  }
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  if (wide > 0) faults.push(`wider than a window of 500 pixels, by ${wide}`);
  await page.setViewportSize({ width: 1000, height: 1200 });
  for (const format of papers) {
    const pdf = await page.pdf({ format, ...printed });
    writeFileSync(join(folder, `${name}-${format}.pdf`), pdf);
    const count = pages(pdf);
    if (count < 1) faults.push(`no page on ${format}`);
    if (name.startsWith("card") && count !== 1) faults.push(`${count} pages on ${format}, where one is promised`);
  }
  await page.evaluate(axe);
  const { violations, passes } = await page.evaluate(() => window.axe.run());
  for (const violation of violations) {
    const where = violation.nodes.map((node) => node.target.join(" ")).join("; ");
    faults.push(`axe: ${violation.id}: ${violation.help} (${where})`);
  }
  if (passes.length < 10) faults.push(`axe passed only ${passes.length} rules: did it run?`);
  await page.close();
  return faults;
}

const browser = await chromium.launch({ executablePath: process.env.BROWSER, args: ["--no-sandbox"] });
const names = readdirSync(folder).filter((file) => file.endsWith(".html")).map((file) => file.slice(0, -5));
let failed = 0;
for (const name of names.sort()) {
  const faults = await look(browser, name);
  if (faults.length > 0) failed += 1;
  console.log(`${faults.length === 0 ? "ok  " : "FAIL"} ${name}.html`);
  for (const fault of faults) console.log(`     ${fault}`);
}
await browser.close();
console.log(`${names.length - failed} passed, ${failed} failed`);
process.exit(failed === 0 && names.length > 0 ? 0 : 1);
