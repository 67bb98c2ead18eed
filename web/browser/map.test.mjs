import assert from "node:assert/strict";
import { test } from "node:test";
import { browser, open, serve } from "./workbench.mjs";

test("a length changed in the map, by keyboard alone, changes the file and keeps its comments; undo brings it back", { timeout: 60_000 }, async () => {
  const b = await browser();
  const s = await serve();
  try {
    const page = await open(b, s, "map");
    await page.waitForSelector("svg g[id]");
    const before = await s.read();
    const current = async () => {
      const r = await page.request.get(`${s.address}/api/studies/velmora/fault?at=N2&kind=3ph`);
      return (await r.json()).faults[0].current_ampere;
    };
    const was = await current();
    await page.keyboard.press("/");
    await page.keyboard.type("N1-N2");
    await page.keyboard.press("Enter");
    const length = page.getByLabel("length", { exact: true });
    await length.waitFor();
    await length.focus();
    await page.keyboard.press("Control+a");
    await page.keyboard.type("0.9 mi");
    await page.keyboard.press("Enter");
    await page.getByText(/study.yaml written, results in/).waitFor();
    assert.equal(await s.read(), before.replace("N1-N2: { from: N1, to: N2, type: L336, length: 1.6 mi }", "N1-N2: { from: N1, to: N2, type: L336, length: 0.9 mi }"));
    assert.notEqual(await s.read(), before);
    assert.ok((await current()) > was, "a shorter line lets more current through");
    await length.focus();
    await page.keyboard.press("Control+a");
    await page.keyboard.type("9 furlongs");
    await page.keyboard.press("Enter");
    assert.match(await page.getByRole("alert").innerText(), /study\.yaml:\d+:\d+.*write a length/s);
    await page.keyboard.press("Escape");
    await page.getByRole("button", { name: /^undo/ }).press("Enter");
    await page.waitForFunction(() => document.querySelector("#map-length")?.value === "1.6 mi");
    assert.equal(await s.read(), before);
    assert.deepEqual(page.troubles, []);
  } finally {
    await b.close();
    await s.stop();
  }
});
