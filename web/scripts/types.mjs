// types: the types of the API, from the description that the server writes (server/openapi.json).
//   node scripts/types.mjs            writes src/api/schema.ts
//   node scripts/types.mjs --check    fails where that would change it
//   node scripts/types.mjs FILE       from another description
import { readFile, writeFile } from "node:fs/promises";
import { pathToFileURL } from "node:url";
import openapiTS, { astToString } from "openapi-typescript";

const here = new URL("..", import.meta.url);
const given = process.argv.slice(2).find((a) => !a.startsWith("--"));
const from = given ? pathToFileURL(given) : new URL("../server/openapi.json", here);
const to = new URL("src/api/schema.ts", here);

const text =
  "// Made from server/openapi.json by `npm run types`; don't edit.\n\n" + astToString(await openapiTS(from));
if (process.argv.includes("--check")) {
  if ((await readFile(to, "utf8")) !== text) {
    console.error("web/src/api/schema.ts is not what server/openapi.json says: npm run types");
    process.exit(1);
  }
} else {
  await writeFile(to, text);
}
