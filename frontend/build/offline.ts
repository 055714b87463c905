/** Vite plugin: after the screens are built, builds the service worker that knows their files. */

import { writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { build, type Plugin, type ResolvedConfig } from "vite";
import { keptFiles, press } from "./files.ts";

/** Builds sw.js from src/offline/when.ts, writes build.json for the server, and presses all files. */
export function offline(buildId: string, version: string): Plugin {
  let config: ResolvedConfig;
  let failed = false;
  return {
    name: "loupebook:offline",
    apply: "build",
    configResolved(resolved) {
      config = resolved;
    },
    buildEnd(error) {
      failed = error !== undefined;
    },
    closeBundle: {
      sequential: true,
      async handler() {
        if (failed) return; // the build has said why
        const dist = resolve(config.root, config.build.outDir);
        const kept = keptFiles(dist);
        await build({
          root: config.root,
          configFile: false,
          publicDir: false,
          logLevel: "warn",
          define: { __BUILD__: JSON.stringify(buildId), __KEPT__: JSON.stringify(kept) },
          build: {
            outDir: config.build.outDir,
            emptyOutDir: false,
            target: config.build.target === false ? "es2022" : config.build.target,
            lib: { entry: "src/offline/when.ts", formats: ["iife"], name: "loupebookOffline", fileName: () => "sw.js" },
          },
        });
        writeFileSync(join(dist, "build.json"), `${JSON.stringify({ build: buildId, version, kept: kept.length })}\n`);
        press(dist);
      },
    },
  };
}
