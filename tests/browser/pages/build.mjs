// Builds the test pages into a folder: node build.mjs OUT_FOLDER
import { createRequire } from "node:module";
import { join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

const frontend = fileURLToPath(new URL("../../../frontend/", import.meta.url));
const { build } = await import(pathToFileURL(createRequire(join(frontend, "package.json")).resolve("vite")).href);

await build({
  root: fileURLToPath(new URL(".", import.meta.url)),
  configFile: false,
  publicDir: false,
  logLevel: "warn",
  build: {
    outDir: process.argv[2],
    emptyOutDir: true,
    target: ["es2022"],
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    rollupOptions: { input: fileURLToPath(new URL("./scanner.html", import.meta.url)) },
  },
  worker: { format: "es" },
});
