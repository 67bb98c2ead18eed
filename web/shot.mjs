import { chromium } from "playwright-core";
const [,, out, path, w="1280", h="800", scheme="light", ...acts] = process.argv;
const b = await chromium.launch({ executablePath: "/usr/bin/chromium", args: ["--no-sandbox","--disable-gpu","--disable-quic","--no-first-run","--disable-background-networking","--disable-component-update","--disable-sync"] });
const p = await b.newPage({ viewport: { width: +w, height: +h }, colorScheme: scheme });
p.on("console", m => ["error","warning"].includes(m.type()) && console.log("console:", m.text()));
p.on("pageerror", e => console.log("pageerror:", e.message));
await p.goto("http://localhost:8611" + path);
await p.waitForTimeout(1200);
for (const a of acts) { if (a.startsWith("key:")) await p.keyboard.press(a.slice(4)); else if (a.startsWith("click:")) await p.click(a.slice(6)); else if (a.startsWith("type:")) await p.keyboard.type(a.slice(5)); await p.waitForTimeout(500); }
await p.screenshot({ path: out, fullPage: process.env.FULL === "1" });
await b.close();
