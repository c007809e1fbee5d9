// How fast the live page follows a hand: drags one value of the buoy for some seconds in a headless Chromium and
// tells the page's own measures. `redraw`: request sent to frame made; `turn`: from the wish, which may have waited
// for the request ahead of it. RAILSTEP names the program (a release build), CHROMIUM the browser.
import { spawn } from "node:child_process";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const ROOT = resolve(dirname(fileURLToPath(import.meta.url)), "../..");
const RAILSTEP = resolve(process.env.RAILSTEP ?? join(ROOT, "target/release/railstep"));
const FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
  "--disable-background-networking", "--disable-component-update", "--disable-sync"];
const MOVES = 120;
const FRAME_MS = 16; // a hand is told of at every frame
const RESTED_MS = 1500;
const PATIENCE_MS = 80_000;

const served = spawn(RAILSTEP, ["live", join(ROOT, "netlists/buoy-radio.toml")], { stdio: ["ignore", "pipe", "inherit"] });
setTimeout(() => { served.kill(); process.exit(3); }, PATIENCE_MS).unref();
const address = await new Promise((found) => {
  let told = "";
  served.stdout.on("data", (data) => {
    told += data;
    if (told.includes("Ctrl-C ends it")) found(told.split("\n")[0]);
  });
});
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: FLAGS });
const page = await browser.newPage({ viewport: { width: 1280, height: 900 } });
await page.goto(address);
await page.selectOption("#test", { label: "transmit burst (load-step)" });
await page.waitForFunction(() => document.querySelector("#command").value.includes("'transmit burst'")
  && document.querySelector("#panels[aria-busy=false]"));
const slider = page.getByRole("slider", { name: "c_out, slider" });
await slider.scrollIntoViewIfNeeded();
await page.evaluate(() => {
  globalThis.told = [];
  const keep = (list) => told.push(...list.getEntries().map(({ name, duration }) => [name, duration]));
  new PerformanceObserver(keep).observe({ entryTypes: ["measure"] });
});
const box = await slider.boundingBox();
const across = (share) => page.mouse.move(box.x + share * box.width, box.y + box.height / 2);
await across(0.5);
await page.mouse.down();
for (let k = 1; k <= MOVES; k += 1) {
  await across(0.5 + 0.35 * Math.sin(k / 15));
  await page.waitForTimeout(FRAME_MS);
}
await page.mouse.up();
await page.waitForTimeout(RESTED_MS);
const told = await page.evaluate(() => globalThis.told);
for (const name of ["redraw", "turn"]) {
  const all = told.filter(([of]) => of === name).map(([, ms]) => ms).sort((a, b) => a - b);
  const at = (share) => all[Math.max(0, Math.ceil(share * all.length) - 1)].toFixed(1);
  console.log(`${name}: ${all.length} frames, median ${at(0.5)} ms, 95 % ${at(0.95)} ms`);
}
await browser.close();
served.kill();
