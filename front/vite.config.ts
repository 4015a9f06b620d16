/** Builds the components into the Python package: fixed file names, and a list with the hash of each for cache control. */
import { createHash } from "node:crypto";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { defineConfig, type Plugin } from "vite";

/** What of others is in the bundle: its licences go along (MIT; the fonts under the SIL Open Font License 1.1). */
const PACKED = ["three", "three-mesh-bvh", "@fontsource/source-sans-3"];

/** Hashed after writing: what is on the disk is what is served. */
function hashes(): Plugin {
  return {
    name: "hashes",
    writeBundle({ dir = "" }, bundle) {
      const licences = PACKED.map((name) => `${name}\n\n${readFileSync(join("node_modules", name, "LICENSE"), "utf8")}`);
      writeFileSync(join(dir, "LICENCES.txt"), licences.join("\n\n"));
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
