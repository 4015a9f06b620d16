/** Builds the components into the Python package: fixed file names, and a list with the hash of each for cache control. */
import { createHash } from "node:crypto";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { defineConfig, type Plugin } from "vite";

/** Hashed after writing: what is on the disk is what is served. */
function hashes(): Plugin {
  return {
    name: "hashes",
    writeBundle({ dir = "" }, bundle) {
      const of = (name: string): string => createHash("sha256").update(readFileSync(join(dir, name))).digest("hex");
      const files = Object.fromEntries(Object.keys(bundle).sort().map((name) => [name, of(name)]));
      writeFileSync(join(dir, "manifest.json"), JSON.stringify({ files }, null, 1) + "\n");
    },
  };
}

export default defineConfig({
  base: "./",
  plugins: [hashes()],
  build: {
    outDir: "../src/festoon/web/built",
    emptyOutDir: true,
    assetsInlineLimit: 0, // the pages forbid data: fonts
    modulePreload: { polyfill: false },
    cssCodeSplit: false,
    target: "es2022",
    chunkSizeWarningLimit: 900,
    rollupOptions: {
      input: { app: "src/main.ts", mesh: "src/mesh-view.ts" },
      output: {
        entryFileNames: "[name].js",
        chunkFileNames: "[name].js",
        assetFileNames: (asset) =>
          asset.names.some((name) => name.endsWith(".css")) ? "app.css" : "fonts/[name][extname]",
      },
    },
  },
});
