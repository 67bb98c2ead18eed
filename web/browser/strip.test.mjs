// The feeder strip: a fault placed by pointer and by keys, and what the page says of it.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { browser, open, serve, shots } from "./workbench.mjs";

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const normal = "condition=maximum, normal, no plant";

let b, s;
before(async () => {
  b = await browser();
  s = await serve();
});
after(async () => {
  await b.close();
  await s.stop();
});

function strip(name, search, run, options) {
  test(name, { timeout: 60_000 }, async () => {
    const page = await open(b, s, "strip", { search: "?" + search.replaceAll("%", "%25"), ...options });
    try {
      await page.locator("[data-pill]").waitFor();
      await run(page);
      assert.deepEqual(page.troubles, []);
    } catch (e) {
      await page.screenshot({ path: join(shots, "failed-strip.png"), fullPage: true }).catch(() => {});
      throw e;
    } finally {
      await page.context().close();
    }
  });
}

/** Text with plain spaces. */
const plain = (t) => t.replaceAll("\u00a0", " ");

/** Waits until the pill says something, and gives all it says. */
async function pill(page, want) {
  await page.waitForFunction(
    ([text, not]) => {
      const t = (document.querySelector("[data-pill]")?.textContent ?? "").replaceAll("\u00a0", " ");
      return new RegExp(text).test(t) && !t.includes(not);
    },
    [want, "…"],
  );
  return plain(await page.locator("[data-pill]").textContent());
}

const busAt = async (page, name) => {
  const box = await page.locator("svg text[data-link]", { hasText: new RegExp(`^${name}$`) }).boundingBox();
  return { x: box.x + box.width / 2, y: box.y + 220 };
};

const search = (page) => Object.fromEntries(new URL(page.url()).searchParams);

// 1679 A: the demonstration's check value at N3 (VM-MAX in the evidence book).
strip("a fault put at N3 by the pointer is 1679 A, and its address brings it back", normal + "&kind=lg:A", async (page) => {
  const n3 = await busAt(page, "N3");
  await page.mouse.move(n3.x + 150, n3.y);
  await pill(page, "^N3-N4/\\d+% · line-ground A · bolted · [\\d,]+ A$");
  assert.equal(search(page).at, undefined, "what is only pointed at is not in the address");
  await page.mouse.move(n3.x, n3.y);
  await page.mouse.down();
  await page.mouse.up();
  assert.equal(await pill(page, "^N3 "), "N3 · line-ground A · bolted · 1,679 A");
  await page.waitForURL((u) => u.searchParams.get("at") === "N3");
  await page.mouse.move(5, 5);
  assert.equal(await pill(page, "^N3 "), "N3 · line-ground A · bolted · 1,679 A");
  const row = page.getByRole("table", { name: /Currents/ }).getByRole("row", { name: /^VM-11/ });
  assert.match(await row.innerText(), /CT-11\s+1,679 ∠ −100\.6°\s+0\s+0\s+1,679[\s\S]*559\.7[\s\S]*559\.7[\s\S]*559\.7[\s\S]*forward/);
  const before = search(page);
  await page.reload();
  assert.equal(await pill(page, "^N3 "), "N3 · line-ground A · bolted · 1,679 A");
  assert.deepEqual(search(page), before);
});

strip("the same by keys; kind, phases, resistance and side too", normal + "&at=N4&kind=lg:A", async (page) => {
  await pill(page, "^N4 ");
  await page.keyboard.press("Shift+ArrowLeft");
  assert.equal(await pill(page, "^N3 "), "N3 · line-ground A · bolted · 1,679 A");
  await page.keyboard.press("ArrowRight");
  const beyond = await pill(page, "^N3-N4/");
  // What the page shows is what the server says.
  const said = await (await fetch(`${s.address}/api/studies/velmora/fault?` + new URLSearchParams({ at: search(page).at, kind: "lg:A", condition: search(page).condition }))).json();
  assert.equal(beyond.split(" · ")[3].replace(",", ""), said.faults[0].current_ampere.toFixed(0) + " A");
  await page.keyboard.press("ArrowLeft");
  await pill(page, "^N3 ");
  await page.keyboard.press("j");
  assert.match(await pill(page, "line-ground B"), /1,679 A$/); // lines are given by z1 and z0: all phases are alike
  await page.keyboard.press("k");
  await pill(page, "^N3 · three-phase · ");
  await page.keyboard.press("K");
  await pill(page, "^N3 · line-ground A · ");
  await page.keyboard.press("r");
  await page.keyboard.type("40");
  await page.getByText("with its unit: 40 ohm").waitFor(); // a bare number is refused
  await page.keyboard.type(" ohm");
  await page.keyboard.press("Enter");
  assert.match(await pill(page, "40 ohm"), /^N3 · line-ground A · 40 ohm · 173\.0 A$/); // derived: 3 · 7199.6 V / |Z1 + Z2 + Z0 + 3 · 40 ohm|, with the impedances that the server gives
  await page.keyboard.press("Escape");
  await page.keyboard.press("p");
  const row = page.getByRole("table", { name: /Currents, A secondary/ }).getByRole("row", { name: /^VM-11/ });
  assert.match(await row.innerText(), /1\.441/); // 172.97 A by 600/5
  await page.keyboard.press("g");
  await page.getByText("section N2-N3").first().waitFor();
  await page.keyboard.press("End");
  await pill(page, "^N7 ");
  await page.keyboard.press("Home");
  await pill(page, "^HV ");
  await page.getByText("zero-sequence impedance of infeed velmora is not given").waitFor();
  assert.deepEqual(search(page), { at: "HV", condition: "maximum, normal, no plant", kind: "lg:A", resistance: "40 ohm", side: "secondary", steps: "shown" });
});

strip("of several conditions one is named, and can be chosen", "at=N3&kind=lg:A", async (page) => {
  const most = await pill(page, "^N3 ");
  const status = page.getByRole("status").filter({ hasText: "line-ground A at N3" });
  assert.match(await status.innerText(), /; future, normal, TS solid$/);
  await page.keyboard.press("m");
  await page.waitForFunction((t) => !["…", t].some((n) => document.querySelector("[data-pill]").textContent.replaceAll("\u00a0", " ").endsWith(n)), most.split(" · ")[3]);
  assert.match(await status.innerText(), /; minimum, /);
  await page.getByLabel(/^in/).selectOption("maximum, normal, no plant");
  assert.equal(await pill(page, "1,679 A"), "N3 · line-ground A · bolted · 1,679 A");
  assert.match(await page.locator("main svg").first().textContent(), /below the limit from/);
});

strip("an end is chosen by following a lateral, or by name; a place elsewhere brings its path", "at=N3", async (page) => {
  await pill(page, "^N3 ");
  const lateral = page.getByRole("link", { name: /^strip to L1-end/ });
  await lateral.focus();
  await page.keyboard.press("Enter");
  await pill(page, "^L1-end · line-ground B · ");
  assert.equal(search(page).to, "L1-end");
  await page.keyboard.press("e");
  await page.getByLabel("end of the path").selectOption("Q1");
  await pill(page, "^Q1 ");
  await page.goto(s.url("strip", "?at=L3/45%25&kind=lg:A"));
  await pill(page, "^L3/45% · line-ground C · ");
  await page.keyboard.press("a");
  await page.waitForURL(/axis=impedance/);
  await page.getByText("positive-sequence impedance from HV").waitFor();
});

for (const colorScheme of ["light", "dark"])
  strip(`says everything to those who don't see it (${colorScheme})`, normal + "&at=N3&kind=lg:A", async (page) => {
    await pill(page, "1,679 A");
    assert.equal(plain(await page.getByRole("slider", { name: "place of the fault" }).getAttribute("aria-valuetext")), "N3 · line-ground A · bolted · 1,679 A");
    assert.match(plain(await page.getByRole("list", { name: "along the path" }).innerText()), /N3: line-ground 1,679 A; voltage/);
    await page.evaluate(axe);
    const violations = await page.evaluate(async () => {
      const r = await globalThis.axe.run(document.querySelector("main"), { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] });
      return r.violations.map((v) => `${v.id}: ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 160) + " " + (n.any[0]?.message ?? "")).join("\n")}`);
    });
    assert.deepEqual(violations, []);
    await page.screenshot({ path: join(shots, `strip-${colorScheme}.png`), fullPage: true });
  }, { colorScheme });

for (const [width, height] of [[1280, 800], [1920, 1080], [1024, 768], [640, 400]])
  strip(`fits ${width} by ${height}`, "at=N3&kind=lg:A", async (page) => {
    await pill(page, "^N3 ");
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "the page scrolls sideways");
    await page.screenshot({ path: join(shots, `strip-${width}.png`) });
  }, { viewport: { width, height } });
