import { fileURLToPath } from "node:url";
import { svelte } from "@sveltejs/vite-plugin-svelte";
import type { Plugin } from "vite";
import { defineConfig } from "vitest/config";

/** Tests in ../tests/frontend lie outside this folder: their packages are looked up from here. */
function packagesForOutsideTests(): Plugin {
  const outside = fileURLToPath(new URL("../tests/", import.meta.url));
  const here = fileURLToPath(new URL("./index.html", import.meta.url));
  return {
    name: "loupebook:packages-for-outside-tests",
    enforce: "pre",
    async resolveId(source, importer) {
      const bare = !source.startsWith(".") && !source.startsWith("/") && !source.startsWith("node:");
      if (!bare || importer === undefined || !importer.startsWith(outside)) return null;
      return this.resolve(source, here, { skipSelf: true });
    },
  };
}

export default defineConfig({
  plugins: [svelte(), packagesForOutsideTests()],
  build: {
    target: ["es2022", "safari16.4", "chrome108"],
    sourcemap: false,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    license: false,
  },
  worker: { format: "es" },
  server: { fs: { allow: [".."] } },
  test: {
    include: ["src/**/*.test.ts", "../tests/frontend/**/*.test.ts"],
    environment: "node",
    passWithNoTests: false,
  },
});
