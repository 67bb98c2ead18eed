// pictures: those of docs/workbench.md, from the program as built.
import { mkdir } from "node:fs/promises";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { browser, open, serve } from "./workbench.mjs";

const to = fileURLToPath(new URL("../../docs/pictures", import.meta.url));
await mkdir(to, { recursive: true });
const b = await browser();
const s = await serve("velmora");
try {
  for (const [name, chapter, search, act] of [
    ["home", "home", ""],
    ["supply", "supply", "?duty=52-11/interrupting", (p) => p.getByRole("heading", { name: "Duties against ratings" }).scrollIntoViewIfNeeded()],
    [
      "file",
      "file",
      "?at=33:5",
      async (p) => {
        await p.keyboard.press("End");
        await p.keyboard.press("Enter");
        await p.keyboard.type("N1b: { voltage: 12.47, ");
        await p.waitForTimeout(900);
      },
    ],
  ]) {
    const page = await open(b, s, chapter, { search, viewport: { width: 1280, height: 760 } });
    await page.waitForFunction(() => !/Working it out|^…$/.test(document.querySelector("main").innerText));
    await page.waitForTimeout(700);
    await act?.(page);
    await page.screenshot({ path: join(to, name + ".png") });
    await page.context().close();
  }
} finally {
  await s.stop();
  await b.close();
}
