// Builds the gallery: every part of the look in the scenes it was drawn for. Not shipped.
// Run from frontend/: node node_modules/vite/bin/vite.js build --config ../tests/browser/pages/gallery/build.mjs --outDir <folder>
import { fileURLToPath } from "node:url";
import { svelte } from "../../../../frontend/node_modules/@sveltejs/vite-plugin-svelte/src/index.js";

const frontend = fileURLToPath(new URL("../../../../frontend/index.html", import.meta.url));
const here = fileURLToPath(new URL(".", import.meta.url));

/** Packages that the gallery names are those of frontend/. */
const packagesOfFrontend = {
  name: "gallery:packages-of-frontend",
  enforce: "pre",
  async resolveId(source, importer) {
    const bare = !source.startsWith(".") && !source.startsWith("/") && !source.startsWith("\0") && !source.startsWith("node:");
    if (!bare || importer === undefined || !importer.startsWith(here)) return null;
    return this.resolve(source, frontend, { skipSelf: true });
  },
};

export default {
  root: here,
  base: "./",
  configFile: false,
  plugins: [svelte({ configFile: false }), packagesOfFrontend],
  build: { target: ["es2022"], assetsInlineLimit: 0, modulePreload: { polyfill: false }, emptyOutDir: true },
};
