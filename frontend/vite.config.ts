import { fileURLToPath } from "node:url";
import { svelte } from "@sveltejs/vite-plugin-svelte";
import type { Plugin } from "vite";
import { defineConfig } from "vitest/config";
import { buildIdOf } from "./build/files.ts";
import { offline } from "./build/offline.ts";
import { words } from "./build/words.ts";
import pkg from "./package.json" with { type: "json" };

const here = (path: string): string => fileURLToPath(new URL(path, import.meta.url));
const BUILD = buildIdOf([here("."), here("../shared")], ["node_modules", "dist", ".vite"]);

/** Every source of the sink but those that are fetched apart. */
const AT_THE_SINK = /\/src\/(capture|cards|parts|record|rules|screens)\/(?!enrol|by-code|recovery|practice|words-later|icons-later)/;

/** Tests in ../tests/frontend lie outside this folder: their packages are looked up from here. */
function packagesForOutsideTests(): Plugin {
  const outside = here("../tests/");
  const inside = here("./index.html");
  return {
    name: "loupebook:packages-for-outside-tests",
    enforce: "pre",
    async resolveId(source, importer) {
      const bare = !source.startsWith(".") && !source.startsWith("/") && !source.startsWith("node:");
      if (!bare || importer === undefined || !importer.startsWith(outside)) return null;
      return this.resolve(source, inside, { skipSelf: true });
    },
  };
}

export default defineConfig({
  plugins: [svelte(), packagesForOutsideTests(), words(here("src/main.ts")), offline(BUILD, pkg.version)],
  define: { __BUILD__: JSON.stringify(BUILD), __VERSION__: JSON.stringify(pkg.version) },
  build: {
    target: ["es2022", "safari16.4", "chrome108"],
    sourcemap: false,
    assetsInlineLimit: 0,
    // Only styles are named beforehand: the names of every later file weighed 2.0 kB in the first one (measured), and
    // the service worker has them all.
    modulePreload: { polyfill: false, resolveDependencies: (_file, later) => later.filter((name) => name.endsWith(".css")) },
    license: false,
    // Two files for the sink. What is loaded with the page: cut in pieces it weighs 1.3 kB more (measured). And all that
    // is fetched ahead once it stands: of its 200 pieces each was asked of the service worker by itself, which took a
    // fifth of the processor's time of a whole inspection (measured). Apart: what a tablet needs before it is enrolled,
    // the words, and what is opened when it is asked for.
    rolldownOptions: { output: { codeSplitting: { groups: [
      { name: "first", tags: ["$initial"], includeDependenciesRecursively: false, priority: 2 },
      { name: "sink", test: AT_THE_SINK, includeDependenciesRecursively: false, priority: 1 },
    ] } } },
  },
  worker: { format: "es" },
  server: { fs: { allow: [".."] } },
  test: {
    include: ["src/**/*.test.ts", "../tests/frontend/**/*.test.ts"],
    environment: "node",
    // A busy machine may take many times as long; a test that hangs still ends.
    testTimeout: 60_000,
    passWithNoTests: false,
    hookTimeout: 60_000,
  },
});
