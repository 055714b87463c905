/** What a build is made of, and what it gave: names, hashes, pressed copies. Runs in Node only. */

import { createHash } from "node:crypto";
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, relative, sep } from "node:path";
import { constants, gzipSync } from "node:zlib";

/** Files worth pressing; fonts and PNG are pressed already. */
const PRESSED = /\.(css|html|js|json|svg|wasm|webmanifest)$/;
const SMALLEST_PRESSED = 512;

/** Every file below `folder`, sorted, `left` (names of files or folders) left out. */
export function filesBelow(folder: string, left: readonly string[] = []): string[] {
  return readdirSync(folder, { withFileTypes: true })
    .filter((entry) => !left.includes(entry.name))
    .flatMap((entry) => {
      const path = join(folder, entry.name);
      return entry.isDirectory() ? filesBelow(path, left) : [path];
    })
    .sort();
}

/** Twelve hex digits that change with any source of the build: the same sources give the same build id. */
export function buildIdOf(roots: readonly string[], left: readonly string[]): string {
  const whole = createHash("sha256");
  for (const root of roots) {
    for (const path of filesBelow(root, left)) {
      const bytes = createHash("sha256").update(readFileSync(path)).digest("hex");
      whole.update(`${relative(root, path).split(sep).join("/")}\n${bytes}\n`);
    }
  }
  return whole.digest("hex").slice(0, 12);
}

/** The files a page without a network needs, as addresses with their integrity. */
export function keptFiles(dist: string): { url: string; integrity: string }[] {
  return filesBelow(dist, ["sw.js", "build.json"])
    .filter((path) => !path.endsWith(".gz"))
    .map((path) => {
      const url = `/${relative(dist, path).split(sep).join("/")}`;
      const integrity = `sha256-${createHash("sha256").update(readFileSync(path)).digest("base64")}`;
      return { url: url === "/index.html" ? "/" : url, integrity };
    });
}

/** Puts a gzip copy beside every file that shrinks by it. */
export function press(dist: string): void {
  for (const path of filesBelow(dist).filter((name) => PRESSED.test(name))) {
    const bytes = readFileSync(path);
    if (bytes.length < SMALLEST_PRESSED) continue;
    const pressed = gzipSync(bytes, { level: constants.Z_BEST_COMPRESSION });
    if (pressed.length < bytes.length) writeFileSync(`${path}.gz`, pressed);
  }
}
