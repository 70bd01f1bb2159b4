// Opens a report from its file in a headless browser and uses it as a reader would.
// node check.mjs build.html [folder for pictures]
import assert from "node:assert/strict";
import { mkdir, writeFile } from "node:fs/promises";
import { pathToFileURL } from "node:url";

// the browser's package brings the libraries it needs where it believes itself in its usual surroundings
process.env.AWS_EXECUTION_ENV ??= "AWS_Lambda_nodejs22.x";
process.env.AWS_LAMBDA_JS_RUNTIME ??= "nodejs22.x";
const { default: chromium } = await import("@sparticuz/chromium");
const { default: puppeteer } = await import("puppeteer-core");

const [file, pictures] = process.argv.slice(2);
const browser = await puppeteer.launch({
  args: [...chromium.args, "--no-sandbox"],
  executablePath: await chromium.executablePath(),
  headless: "shell",
});
const page = await browser.newPage();
const requests = [], complaints = [];
page.on("request", (r) => requests.push(r.url()));
page.on("console", (m) => complaints.push(m.text()));
page.on("pageerror", (e) => complaints.push(String(e)));
await page.setViewport({ width: 1100, height: 900 });
await page.goto(pathToFileURL(file).href, { waitUntil: "load" });

const texts = (selector) => page.$$eval(selector, (all) => all.map((e) => e.textContent));
const paths = (n) => page.$$eval(".chart > svg", (all, n) => all[n].querySelectorAll('path[stroke-width="2"]').length, n);

// the section is there and drawn
assert.equal(await page.$eval("#explore", (e) => e.hidden), false);
assert.equal(await page.$$eval(".chart", (c) => c.length), 2);
const curves = await paths(0);
assert.ok(curves >= 1, "no curves");

// pointing reads a value
const first = await page.$(".chart > svg");
await first.scrollIntoView();
const frame = await first.boundingBox();
await page.mouse.move(frame.x + frame.width / 2, frame.y + frame.height / 2);
const read = (await texts(".read"))[0];
assert.match(read, /speed \[1\/min\] \d+: .+ \d/, read);

// a box takes a curve away and brings it back
await page.click(".legend input");
assert.equal(await paths(0), curves - 1);
await page.click(".legend input");
assert.equal(await paths(0), curves);

// another result is another curve
const shape = () => page.$eval('.chart > svg path[stroke-width="2"]', (p) => p.getAttribute("d"));
const before = await shape();
await page.select("#explore select", "2");
assert.notEqual(await shape(), before);

// dragging looks closer, a double click shows all
const wide = await shape();
await page.mouse.move(frame.x + frame.width * 0.35, frame.y + 80);
await page.mouse.down();
await page.mouse.move(frame.x + frame.width * 0.65, frame.y + 80, { steps: 5 });
await page.mouse.up();
assert.notEqual(await shape(), wide);
await page.mouse.click(frame.x + frame.width / 2, frame.y + 80, { count: 2 });
assert.equal(await shape(), wide);

// the slider walks through the speeds
const speed = async () => (await texts("#explore output"))[0];
const slower = await speed();
await page.focus('#explore input[type="range"]');
await page.keyboard.press("ArrowRight");
assert.notEqual(await speed(), slower);

// a sweep's map: another axis, another result, a slider, a value under the pointer
if (await page.$("#grid")) {
  const fields = () => page.$$eval("#grid .field", (all) => all.map((f) => f.getAttribute("fill") + f.getAttribute("width")).join());
  assert.equal(await page.$eval("#grid", (e) => e.hidden), false);
  const count = await page.$$eval("#grid .field", (all) => all.length);
  assert.ok(count >= 4, `${count} fields`);
  let was = await fields();
  const selects = await page.$$("#grid select");
  assert.equal(selects.length, 3);
  await selects[0].select("1");
  assert.notEqual(await fields(), was, "another result, the same colours");
  was = await fields();
  await selects[1].select("1");
  assert.equal(await page.$eval('#grid select[aria-label="up"]', (e) => e.value), "0", "axes have not changed places");
  assert.notEqual(await fields(), was, "another axis, the same colours");
  const others = await page.$$("#grid input[type=range]");
  const axes = await page.$$eval('#grid select[aria-label="across"] option', (all) => all.length);
  assert.equal(others.length, axes - 2);
  was = await fields();
  if (others.length) {
    await others[0].focus();
    await page.keyboard.press("Home");
    await page.keyboard.press("ArrowRight");
    await page.keyboard.press("End");
    const end = await fields();
    await page.keyboard.press("Home");
    assert.notEqual(await fields(), end, "the slider changes nothing");
  }
  const map = await page.$("#grid svg");
  await map.scrollIntoView();
  const box = await map.boundingBox();
  await page.mouse.move(box.x + box.width * 0.4, box.y + box.height * 0.5);
  const told = await page.$eval("#grid .read", (e) => e.textContent);
  assert.match(told, /.+: .+ (-?[\d.]+|refused by a limit|not known)$/, told);
  if (pictures) {
    await mkdir(pictures, { recursive: true });
    await (await page.$("#sweep")).screenshot({ path: `${pictures}/sweep.png` });
  }
}

// a phone: nothing is wider than the screen
await page.setViewport({ width: 380, height: 800, isMobile: true });
const over = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
assert.ok(over <= 0, `${over} px too wide for a phone`);
if (pictures) {
  await mkdir(pictures, { recursive: true });
  await page.screenshot({ path: `${pictures}/phone.png` });
  for (const part of ["cut-sheet", "measured", "sweep", "explore"]) {
    const section = await page.$(`#${part}`);
    if (section) { await section.screenshot({ path: `${pictures}/phone-${part}.png` }); }
  }
  await page.setViewport({ width: 1100, height: 900 });
  await (await page.$("#explore")).screenshot({ path: `${pictures}/explore.png` });
  await page.screenshot({ path: `${pictures}/page.png`, fullPage: true });
}

// on paper: A4, without what only answers on a screen
await page.setViewport({ width: 1100, height: 900 });
const pdf = await page.pdf({ preferCSSPageSize: true });
assert.match(Buffer.from(pdf).toString("latin1"), /MediaBox ?\[ ?0 0 59[45][.\d]* 84[12][.\d]* ?\]/);
await page.emulateMediaType("print");
assert.equal(await page.$eval("#explore", (e) => getComputedStyle(e).display), "none");
if (await page.$("#grid")) {
  assert.equal(await page.$eval("#grid", (e) => getComputedStyle(e).display), "none");
}
if (pictures) { await writeFile(`${pictures}/print.pdf`, pdf); }
await page.emulateMediaType(null);

// nothing was asked of anyone, and nothing was refused
const foreign = requests.filter((u) => !u.startsWith("file:") && !u.startsWith("data:"));
assert.deepEqual(foreign, []);
assert.deepEqual(complaints, []);

// without script the fixed pictures are all there
await page.setJavaScriptEnabled(false);
await page.reload({ waitUntil: "load" });
assert.equal(await page.$$eval("figure svg", (f) => f.length > 3), true);
await browser.close();
console.log("browser: no request beyond the file itself; charts answer; A4 on paper; a phone's width");
