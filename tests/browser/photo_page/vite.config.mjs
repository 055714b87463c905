/** Builds the page as the product is built; run from frontend/, where the builder is installed. */
import { fileURLToPath } from "node:url";

export default {
  root: fileURLToPath(new URL(".", import.meta.url)),
  logLevel: "warn",
  build: { target: ["es2022", "safari16.4", "chrome108"], assetsInlineLimit: 0, modulePreload: { polyfill: false } },
  worker: { format: "es" },
};
