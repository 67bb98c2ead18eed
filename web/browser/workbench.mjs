// workbench: a server of its own on a copy of a demonstration study, and a browser to look at it.

import { spawn } from "node:child_process";
import { cp, mkdir, mkdtemp, readFile, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const top = fileURLToPath(new URL("../..", import.meta.url));
export const shots = join(top, "out", "shots");
await mkdir(shots, { recursive: true });

export async function browser() {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    args: [
      "--no-sandbox",
      "--disable-gpu",
      "--disable-quic",
      "--no-first-run",
      "--disable-background-networking",
      "--disable-component-update",
      "--disable-sync",
    ],
  });
}

/** Serves a copy of an example; `path` and `read` reach its files. */
export async function serve(example = "velmora") {
  const dir = await mkdtemp(join(tmpdir(), "workbench-"));
  const study = join(dir, example);
  await cp(join(top, "examples", example), study, { recursive: true });
  const program = spawn(join(top, "bin", "feederwright"), ["serve", study, "--no-browser"], { stdio: ["ignore", "pipe", "pipe"] });
  let said = "";
  const address = await new Promise((ok, bad) => {
    const late = setTimeout(() => bad(new Error("the server did not start: " + said)), 20_000);
    const hear = (text) => {
      said += text;
      const m = /http:\/\/\S+/.exec(said);
      if (m) {
        clearTimeout(late);
        ok(m[0].replace(/\/$/, ""));
      }
    };
    program.stdout.on("data", hear);
    program.stderr.on("data", hear);
    program.on("exit", (code) => bad(new Error(`the server ended (${code}): ${said}`)));
  });
  const file = (name = "study.yaml") => join(study, name);
  return {
    address,
    url: (chapter, search = "") => `${address}/s/${example}/${chapter}${search}`,
    read: (name) => readFile(file(name), "utf8"),
    write: (text, name) => writeFile(file(name), text),
    async stop() {
      const gone = new Promise((ok) => program.on("exit", ok));
      program.kill("SIGTERM");
      await gone;
      await rm(dir, { recursive: true, force: true });
    },
  };
}

/** Opens a page that fails the test on errors of its scripts, and on requests to anywhere else. */
export async function open(b, bench, chapter, { search = "", timeout: _, example: __, ...options } = {}) {
  const context = await b.newContext({ viewport: { width: 1280, height: 800 }, colorScheme: "light", ...options });
  await context.grantPermissions(["clipboard-read", "clipboard-write"], { origin: bench.address }).catch(() => {});
  const page = await context.newPage();
  page.troubles = [];
  page.on("pageerror", (e) => page.troubles.push(e.message));
  page.on("console", (m) => m.type() === "error" && !/status of (409|422)/.test(m.text()) && page.troubles.push(m.text()));
  page.on("request", (r) => {
    if (!r.url().startsWith(bench.address) && !/^(data|blob):/.test(r.url())) page.troubles.push("asked elsewhere: " + r.url());
  });
  await page.goto(bench.url(chapter, search));
  await page.getByRole("navigation", { name: "chapters" }).waitFor();
  return page;
}
