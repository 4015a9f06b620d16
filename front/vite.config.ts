/** Builds the components into the Python package: fixed file names, and a list with the hash of each for cache control. */
import { createHash } from "node:crypto";
import { defineConfig, type Plugin } from "vite";

function hashes(): Plugin {
  return {
    name: "hashes",
    generateBundle(_options, bundle) {
      const files: Record<string, string> = {};
      for (const [name, part] of Object.entries(bundle).sort(([a], [b]) => (a < b ? -1 : 1))) {
        const content = part.type === "chunk" ? part.code : part.source;
        files[name] = createHash("sha256").update(content).digest("hex");
      }
      this.emitFile({ type: "asset", fileName: "manifest.json", source: JSON.stringify({ files }, null, 1) + "\n" });
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
