import { defineConfig } from "vitest/config";
import react from "@vitejs/plugin-react";

// In development the page comes from here and the API from a server of its own:
//   feederwright serve ../examples --no-browser --listen localhost:8611
export default defineConfig({
  plugins: [react()],
  server: { proxy: { "/api": process.env.FEEDERWRIGHT_API ?? "http://localhost:8611" } },
  build: {
    target: "es2023",
    // Go embeds this folder; the word in dist/README stays, so that a build without Node has a folder to embed.
    outDir: "dist",
    emptyOutDir: false,
    assetsInlineLimit: 0, // fonts and pictures as files of their own: the server's policy allows no others
    modulePreload: { polyfill: false },
    manifest: "manifest.json",
    chunkSizeWarningLimit: 1200,
  },
  test: { include: ["src/**/*.test.ts", "src/**/*.test.tsx"], environment: "node" },
});
