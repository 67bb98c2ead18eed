// budget: what the browser must fetch before it can show the first chapter, compressed, against the limit.
import { readFile, readdir, unlink } from "node:fs/promises";
import { gzipSync } from "node:zlib";

const limit = 350e3; // bytes of scripts and styles, compressed
const dist = new URL("../dist/", import.meta.url);
const manifest = JSON.parse(await readFile(new URL("manifest.json", dist), "utf8"));

// What the entry imports statically, with all its styles; then the chapter shown first.
const wanted = new Set();
function add(key) {
  const chunk = manifest[key];
  if (!chunk || wanted.has(chunk.file)) return;
  wanted.add(chunk.file);
  for (const css of chunk.css ?? []) wanted.add(css);
  for (const next of chunk.imports ?? []) add(next);
}
add("index.html");
for (const key of Object.keys(manifest)) if (/chapters\/home\//.test(key)) add(key);

let total = 0;
for (const file of wanted) {
  const size = gzipSync(await readFile(new URL(file, dist))).length;
  total += size;
  console.log(`${(size / 1000).toFixed(1).padStart(8)} kB  ${file}`);
}
console.log(`${(total / 1000).toFixed(1).padStart(8)} kB  of ${limit / 1000} kB for the first load`);

// Files of earlier builds.
const all = new Set([...Object.values(manifest).flatMap((c) => [c.file, ...(c.css ?? []), ...(c.assets ?? [])])]);
for (const name of await readdir(new URL("assets/", dist))) {
  if (!all.has("assets/" + name)) await unlink(new URL("assets/" + name, dist));
}
await unlink(new URL("manifest.json", dist));
if (total > limit) {
  console.error("the first load is too heavy");
  process.exit(1);
}
