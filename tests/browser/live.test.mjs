// The live page in a real browser: CHROMIUM and RAILSTEP name other programs than the usual ones.
import assert from "node:assert/strict";
import { execFileSync, spawn } from "node:child_process";
import { cpSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { after, before, test } from "node:test";
import { fileURLToPath, pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const ROOT = resolve(dirname(fileURLToPath(import.meta.url)), "../..");
const RAILSTEP = resolve(process.env.RAILSTEP ?? join(ROOT, "target/debug/railstep"));
const AXE = createRequire(import.meta.url).resolve("axe-core/axe.min.js");
const FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
  "--disable-background-networking", "--disable-component-update", "--disable-sync"];
const FILE = "buoy-radio.toml";
const TEST = "transmit burst";
const PATIENCE_MS = 120_000; // much longer than anything takes, for machines under load

const HOT = `title = "Three junctions"
[rail]
output = "out"
nominal = "5 V"
window = "2 %"
transient_window = "25 %"
source = "V"
load = "I"
[parts]
V = { kind = "voltage-source", plus = "in", minus = "gnd", voltage = "5 V" }
RA = { kind = "resistor", nodes = ["in", "a"], resistance = "0.5 Ω" }
RB = { kind = "resistor", nodes = ["a", "b"], resistance = "0.3 Ω" }
RC = { kind = "resistor", nodes = ["b", "out"], resistance = "0.2 Ω" }
C = { kind = "capacitor", nodes = ["out", "gnd"], capacitance = "1 µF" }
I = { kind = "load", nodes = ["out", "gnd"], current = "0 A" }
HA = { kind = "heat-path", part = "RA", foster = [["10 K/W", "5 µs"]] }
HB = { kind = "heat-path", part = "RB", foster = [["20 K/W", "3 µs"]] }
HC = { kind = "heat-path", part = "RC", foster = [["60 K/W", "2 µs"]] }
[[tests]]
name = "step"
kind = "load-step"
from = "0 A"
to = "1 A"
edge = "1 µs"
hold = "20 µs"
`;

let folder, address, browser;
const servers = [];

/** Where a file in the folder is served. */
function serve(file) {
  const served = spawn(RAILSTEP, ["live", file], { cwd: folder, stdio: ["ignore", "pipe", "inherit"] });
  servers.push(served);
  return new Promise((found, failed) => {
    let told = "";
    served.stdout.on("data", (data) => {
      told += data;
      if (told.includes("Ctrl-C ends it")) found(told.split("\n")[0]);
    });
    served.on("exit", (code) => failed(new Error(`it ended with ${code}`)));
  });
}

before(async () => {
  folder = mkdtempSync(join(tmpdir(), "railstep-live-"));
  cpSync(join(ROOT, "netlists", FILE), join(folder, FILE));
  writeFileSync(join(folder, "hot.toml"), HOT);
  address = await serve(FILE);
  const executablePath = process.env.CHROMIUM ?? "/usr/bin/chromium";
  browser = await chromium.launch({ executablePath, headless: true, args: FLAGS });
});

after(async () => {
  await browser?.close();
  servers.forEach((served) => served.kill());
  if (folder) rmSync(folder, { recursive: true, force: true });
});

/** The page, solved; `faults` gathers what the console tells. */
async function open(viewport = { width: 1280, height: 900 }) {
  const page = await browser.newPage({ viewport });
  page.setDefaultTimeout(PATIENCE_MS);
  const faults = [];
  page.on("console", (message) => ["error", "warning"].includes(message.type()) && faults.push(message.text()));
  page.on("pageerror", (error) => faults.push(String(error)));
  await page.goto(address);
  await page.selectOption("#test", { label: `${TEST} (load-step)` });
  await turned(page, `--test '${TEST}'`);
  return { page, faults };
}

const cell = (page, table, row, column) =>
  page.locator(`#${table} tbody tr`).filter({ has: page.locator("th", { hasText: new RegExp(`^${row}`) }) })
    .first().locator("td").nth(column).textContent();
const picture = (page) => page.locator("#panels canvas").nth(1).evaluate((canvas) => canvas.toDataURL());

/** Waits until this stands in the command and nothing is on its way any more. */
const turned = (page, command) => page.waitForFunction((part) =>
  document.querySelector("#command").value.includes(part) && document.querySelector("#panels[aria-busy=false]"), command);

/** What axe-core finds serious or critical. */
async function barriers(page) {
  await page.evaluate(readFileSync(AXE, "utf8"));
  const { violations } = await page.evaluate(() => globalThis.axe.run());
  return violations.filter(({ impact }) => ["serious", "critical"].includes(impact))
    .map(({ id, nodes }) => `${id}: ${nodes.map((node) => node.html).join(" | ")}`);
}

test("a slider moved by keyboard moves waveform, table, loop and command, and they go back", async () => {
  const { page, faults } = await open();
  assert.match(await page.textContent("h1"), /Tide-buoy radio rail/);
  assert.match(await page.textContent("#verdict"), /^pass/);
  const [droop, before] = [await cell(page, "rows", "droop", 0), await picture(page)];
  const margin = await page.locator("#loops tbody td").first().textContent();
  const slider = page.getByRole("slider", { name: "c_out, slider" });
  assert.match(await slider.getAttribute("aria-valuetext"), /^4.7 µF$/);
  await slider.focus();
  for (let k = 0; k < 4; k += 1) await page.keyboard.press("PageDown");
  await turned(page, "--set c_out=");
  assert.notEqual(await cell(page, "rows", "droop", 0), droop);
  assert.equal(await cell(page, "rows", "droop", 2), droop, "the file's own value stays beside it");
  assert.notEqual(await picture(page), before);
  assert.notEqual(await page.locator("#loops tbody td").first().textContent(), margin);
  assert.match(await page.textContent("#loops"), /\d°.*Hz/);
  assert.equal(await slider.getAttribute("aria-valuetext"), await page.getByLabel("c_out", { exact: true }).inputValue());
  await page.waitForFunction(() => document.querySelector("#said").textContent === document.querySelector("#verdict").textContent);
  await page.getByRole("button", { name: "Back to the file's own values" }).click();
  await page.waitForFunction(() => !document.querySelector("#command").value.includes("--set"));
  assert.equal(await cell(page, "rows", "droop", 0), droop);
  assert.deepEqual(faults, []);
  await page.close();
});

test("while a value is dragged drafts are drawn, and once it rests everything as if it had been typed", async () => {
  const low = { width: 1280, height: 520 }; // most panels and the tables lie below
  const { page, faults } = await open(low);
  const asked = [];
  page.on("request", (request) => request.url().endsWith("/turn") && asked.push(request.postDataJSON()));
  const before = await cell(page, "rows", "droop", 0);
  const slider = page.getByRole("slider", { name: "c_out, slider" });
  await slider.scrollIntoViewIfNeeded();
  const box = await slider.boundingBox();
  const across = (share) => page.mouse.move(box.x + share * box.width, box.y + box.height / 2);
  await across(0.5);
  await page.mouse.down();
  for (let k = 1; k <= 40; k += 1) await across(0.5 + 0.008 * k);
  await page.waitForFunction((old) => !document.querySelector("#rows td").textContent.startsWith(old), before);
  await page.mouse.up();
  await turned(page, "--set c_out=");
  assert.ok(asked.length > 1 && asked[0].draft, "drafts follow the hand");
  assert.equal(asked.at(-1).draft, false, "and the last answer is whole");

  const { page: other } = await open(low);
  const entry = other.getByLabel("c_out", { exact: true });
  await entry.fill(await page.getByLabel("c_out", { exact: true }).inputValue());
  await entry.press("Enter");
  await turned(other, "--set c_out=");
  const shown = (one) => one.evaluate(() => ({
    pictures: [...document.querySelectorAll("#panels canvas")].map((canvas) => canvas.toDataURL()),
    labels: [...document.querySelectorAll("#panels [role=img]")].map((panel) => panel.getAttribute("aria-label")),
    words: ["verdict", "condition", "rows", "further", "loops", "notes"].map((id) => document.getElementById(id).textContent),
    command: document.querySelector("#command").value,
  }));
  const [dragged, typed] = [await shown(page), await shown(other)];
  assert.equal(dragged.pictures.length, 4);
  assert.deepEqual(dragged, typed);
  assert.deepEqual(faults, []);
  await Promise.all([page.close(), other.close()]);
});

test("a wrong entry is told beside its field, and the last good picture stays", async () => {
  const { page, faults } = await open();
  const entry = page.getByLabel("c_out", { exact: true });
  const command = await page.inputValue("#command");
  await entry.fill("5 V");
  await entry.press("Enter");
  const told = page.locator("[data-path=c_out] .told");
  await told.filter({ hasText: "V" }).waitFor();
  assert.equal(await entry.getAttribute("aria-invalid"), "true");
  assert.match(await told.textContent(), /5 V/);
  assert.equal(await page.inputValue("#command"), command);
  assert.ok(await page.locator("#panels canvas").first().isVisible());
  await entry.fill("10 µF");
  await entry.press("Enter");
  await turned(page, "--set c_out=10µF");
  assert.equal(await told.textContent(), "");
  assert.deepEqual(faults, []);
  await page.close();
});

test("the command that is offered gives the same droop", async () => {
  const { page } = await open();
  const entry = page.getByLabel("v_cell", { exact: true });
  await entry.fill("v_ref + 2.3 V");
  await entry.press("Enter");
  await turned(page, "v_cell=");
  const droop = await cell(page, "rows", "droop", 0);
  const command = await page.inputValue("#command");
  assert.match(command, /^railstep run buoy-radio\.toml --test 'transmit burst' --set 'v_cell=v_ref \+ 2\.3 V'$/);
  const line = command.replace(/^railstep/, `'${RAILSTEP}'`);
  const out = execFileSync("bash", ["-c", `${line} --format json || true`], { cwd: folder, encoding: "utf8" });
  const measured = JSON.parse(out).tests[0].measurements.find(({ name }) => name === "droop");
  // To the last digit that the page shows: 10 µV.
  assert.ok(Math.abs(measured.value - parseFloat(droop) / 1e3) <= 0.51e-5, `${measured.value} against ${droop}`);
  await page.close();
});

test("a copy of the file is written with its comments, and nothing is overwritten", async () => {
  const { page } = await open();
  const entry = page.getByLabel("esr_out", { exact: true });
  await entry.fill("12 mΩ");
  await entry.press("Enter");
  await turned(page, "esr_out");
  for (const name of ["buoy-radio-live.toml", "buoy-radio-live-2.toml"]) {
    await page.getByRole("button", { name: "Write a copy of the file" }).click();
    await page.locator("#kept", { hasText: name }).waitFor();
  }
  const [own, copy] = [FILE, "buoy-radio-live.toml"].map((name) => readFileSync(join(folder, name), "utf8"));
  assert.equal(copy, own.replace('value = "6 mΩ"', 'value = "12 mΩ"'));
  assert.deepEqual(readdirSync(folder).filter((name) => name.includes("-live")).length, 2);
  execFileSync(RAILSTEP, ["check", "buoy-radio-live.toml"], { cwd: folder });
  await page.close();
});

test("tests at rest show their pictures, and what a test sets itself cannot be turned", async () => {
  const { page, faults } = await open();
  const first = await page.locator("#test option[selected]").textContent();
  assert.match(first, /\((load-step|line-step|profile)\)$/, "it opens on a test with something to watch");
  await page.selectOption("#test", { label: "stable asleep (loop-gain)" });
  await page.locator("#panels img").first().waitFor();
  assert.ok(await page.locator("#panels img").first().evaluate((image) => image.decode().then(() => image.naturalWidth > 0)));
  await page.selectOption("#test", { label: "transmit burst, end of discharge (load-step)" });
  await page.locator("[data-path=v_cell] .told", { hasText: "this test sets it itself: 2.95 V" }).waitFor();
  assert.ok(await page.getByLabel("v_cell", { exact: true }).isDisabled());
  assert.deepEqual(faults, []);
  await page.close();
});

test("curves of several junctions have names, colours and figures of their own, live and in the report", async () => {
  const names = ["HA", "HB", "HC"];
  const page = await browser.newPage({ viewport: { width: 1280, height: 1400 } });
  await page.goto(await serve("hot.toml"));
  await turned(page, "--test step");
  const legend = page.locator("#panels .key span");
  assert.deepEqual((await legend.allTextContents()).map((text) => text.trim()), names);
  const colours = await legend.locator("i").evaluateAll((all) => all.map((one) => one.style.borderColor));
  assert.equal(new Set(colours).size, names.length);
  await page.locator("#panels .u-over").last().hover();
  const told = page.locator("#readout", { hasText: "junction temperature of HC" });
  assert.match(await told.textContent(), /of HA .*°C.*of HB .*°C.*of HC .*°C/);

  // The circuit misses its window, so the command ends with 1.
  execFileSync("bash", ["-c", `'${RAILSTEP}' run hot.toml --out report >/dev/null 2>&1 || true`], { cwd: folder });
  await page.goto(pathToFileURL(join(folder, "report/report.html")).href);
  assert.deepEqual(await page.locator("figure .sample").allTextContents(), names);
  await page.close();
});

test("no serious fault of accessibility, wide, narrow and at 200 %, and nothing hangs over", async () => {
  for (const viewport of [{ width: 1280, height: 900 }, { width: 390, height: 844 }, { width: 640, height: 450 }]) {
    const { page } = await open(viewport);
    assert.deepEqual(await barriers(page), [], JSON.stringify(viewport));
    const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    assert.ok(over <= 0, `${viewport.width}: ${over} px over`);
    assert.ok(await page.locator("#verdict").isVisible());
    await page.close();
  }
});

test("everything that can be worked can be reached by the Tab key, with focus seen", async () => {
  const { page } = await open();
  const reached = new Set();
  for (let k = 0; k < 40; k += 1) {
    await page.keyboard.press("Tab");
    const [name, outline] = await page.evaluate(() => {
      const one = document.activeElement;
      const name = one === document.body ? "BODY" : one.id || one.textContent || one.tagName;
      return [name, getComputedStyle(one).outlineStyle];
    });
    if (name !== "BODY") assert.notEqual(outline, "none", name);
    reached.add(name);
  }
  for (const id of ["text-0", "slide-3", "reset", "copy", "write", "test"]) assert.ok(reached.has(id), id);
  await page.close();
});
