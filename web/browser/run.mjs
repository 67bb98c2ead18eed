// run: the tests in a browser. Names of tests as arguments run those alone.
import { spawnSync } from "node:child_process";
import { readdirSync } from "node:fs";
import { fileURLToPath } from "node:url";

const here = fileURLToPath(new URL(".", import.meta.url));
const files = readdirSync(here).filter((f) => f.endsWith(".test.mjs"));
const pattern = process.argv[2] ? ["--test-name-pattern", process.argv[2]] : [];
const r = spawnSync(process.execPath, ["--test", "--test-force-exit", "--test-reporter", "spec", "--test-concurrency", "1", ...pattern, ...files.map((f) => here + f)], { stdio: "inherit" });
process.exit(r.status ?? 1);
