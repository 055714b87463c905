// Builds a bare page around the tablet's record, for tests of the store in a real browser. Not shipped.
// Run from frontend/: node node_modules/vite/bin/vite.js build --config ../tests/browser/pages/store/vite.config.mjs --outDir <folder>
import { fileURLToPath } from "node:url";

export default {
  root: fileURLToPath(new URL(".", import.meta.url)),
  base: "/",
  configFile: false,
  build: { target: ["es2022"], assetsInlineLimit: 0, modulePreload: { polyfill: false }, emptyOutDir: true },
};
