/**
 * Splits shared/words/en.json for the build: what the first screen may say, and what comes with the later screens.
 * Nothing is listed by hand: the first words are all keys, and all that a template or `named` can make, in the
 * files that src/main.ts reaches without a dynamic import. Where the plugin does not run (while developing, in
 * tests, in other builds), both halves are the whole file.
 */

import { existsSync, readFileSync } from "node:fs";
import { basename, dirname, resolve } from "node:path";
import type { Plugin } from "vite";

export type Table = Readonly<Record<string, unknown>>;

/** An import or a re-export that stands when the file is loaded; types and `import(...)` do not. */
const STATIC = /\b(?:import\s+(?!type\b)(?:[^"'`;()]*?\bfrom\s*)?|export\s+(?!type\b)[^"'`;()]*?\bfrom\s*)["'](\.[^"']+)["']/g;

/** The relative files that `text` imports at once. */
export function staticImports(text: string): string[] {
  return [...text.matchAll(STATIC)].map((match) => match[1] ?? "");
}

/** Every source that is loaded with `entry`, itself included; style sheets and data carry no keys. */
export function loadedWith(entry: string): string[] {
  const seen = new Set<string>();
  const wanted = [entry];
  for (let path = wanted.pop(); path !== undefined; path = wanted.pop()) {
    if (seen.has(path)) continue;
    seen.add(path);
    for (const name of staticImports(readFileSync(path, "utf8"))) {
      const found = fileOf(resolve(dirname(path), name));
      if (found !== undefined) wanted.push(found);
    }
  }
  return [...seen].sort();
}

/** The source behind an import, or undefined for a style sheet, data, or a worker (another program). Throws where there is no such file. */
function fileOf(path: string): string | undefined {
  if (/\.(css|json)(\?\w+)?$|\?worker/.test(path)) return undefined;
  const found = [path, `${path}.ts`, `${path}/index.ts`].find((each) => /\.(ts|svelte)$/.test(each) && existsSync(each));
  if (found === undefined) throw new Error(`no source at ${path}: the words of the first screen cannot be told`);
  return found;
}

/** Quoted keys; templates with a fixed beginning; prefixes given to `named`. */
const QUOTED = /["'`]([a-z]\w*(?:\.\w+)+)["'`]/g;
const TEMPLATE = /`([a-z]\w*\.[^`]*\$\{[^`]*)`/g;
const NAMED = /\bnamed\(\s*"(\w+)"/g;
const OPEN = /\b(?:say|named)\(\s*`\$\{/;

/** The keys of the words that a source can ask for, its literals taken generously. Throws where that cannot be told. */
export function keysAskedFor(text: string, keys: readonly string[]): Set<string> {
  if (OPEN.test(text)) throw new Error("a key that begins with a value: write its first word out, so that its words can be found");
  const quoted = new Set([...text.matchAll(QUOTED)].map((match) => match[1] ?? ""));
  const patterns = [
    ...[...text.matchAll(TEMPLATE)].map((match) => patternOf(match[1] ?? "")),
    ...[...text.matchAll(NAMED)].map((match) => new RegExp(`^${match[1] ?? ""}\\.`)),
  ];
  return new Set(keys.filter((key) => quoted.has(key) || patterns.some((pattern) => pattern.test(key))));
}

function patternOf(template: string): RegExp {
  const pieces = template.split(/\$\{[^}]*\}/).map((piece) => piece.replace(/[^\w]/g, "\\$&"));
  return new RegExp(`^${pieces.join("[\\w.]+")}$`);
}

/** The words in two: every key in exactly one of them. */
export function splitWords(words: Table, texts: readonly string[]): { readonly first: Table; readonly later: Table } {
  const keys = Object.keys(words);
  const asked = new Set(texts.flatMap((text) => [...keysAskedFor(text, keys)]));
  const half = (first: boolean): Table => Object.fromEntries(Object.entries(words).filter(([key]) => asked.has(key) === first));
  return { first: half(true), later: half(false) };
}

/** Who is given which half: the two sources that import the words as a value. */
const HALF_OF: Readonly<Record<string, "first" | "later">> = { "words.ts": "first", "words-later.ts": "later" };

/**
 * Gives parts/words.ts and parts/words-later.ts their half of en.json. `main` is the page's first source.
 * Anybody else's import of the words as a value ends the build: it would bring all of them into the first screen.
 */
export function words(main: string): Plugin {
  const HALF = /\/words\/en\.json\?(first|later)$/;
  let halves: ReturnType<typeof splitWords> | undefined;
  return {
    name: "loupebook:words",
    apply: "build",
    enforce: "pre",
    resolveId(source, importer) {
      if (!source.endsWith("/words/en.json") || importer === undefined) return null;
      const half = HALF_OF[basename(importer)];
      if (half === undefined) throw new Error(`${importer} imports all words: ask parts/words.ts for a sentence instead`);
      return `${resolve(dirname(importer), source)}?${half}`;
    },
    load(id) {
      const half = HALF.exec(id)?.[1] as "first" | "later" | undefined;
      if (half === undefined) return null;
      const file = id.slice(0, id.lastIndexOf("?"));
      halves ??= splitWords(JSON.parse(readFileSync(file, "utf8")) as Table, loadedWith(main).map((path) => readFileSync(path, "utf8")));
      return { code: `export default JSON.parse(${JSON.stringify(JSON.stringify(halves[half]))});`, moduleType: "js" };
    },
  };
}
