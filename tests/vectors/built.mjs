// The tablet's own code for tests outside the browser: built by the bundler of the screens.
import { createRequire } from "node:module";
import { join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";

/** Builds files of frontend/ into a folder; answers their modules in the same order. */
export async function built(files, folder) {
  const root = fileURLToPath(new URL("../../frontend/", import.meta.url));
  const { build } = await import(pathToFileURL(createRequire(join(root, "package.json")).resolve("vite")).href);
  await build({
    root,
    configFile: false,
    logLevel: "error",
    build: { ssr: true, rollupOptions: { input: files }, outDir: folder, emptyOutDir: false, minify: false },
  });
  return Promise.all(files.map((file) => import(pathToFileURL(join(folder, file.replace(/^.*\/(.*)\.ts$/, "$1.js"))).href)));
}
